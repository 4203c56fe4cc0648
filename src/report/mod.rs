//! Text out: tables, JSON, Markdown and the handbook of rules.
//!
//! Everything here takes plain data and gives text (Parquet: bytes to where it is told); nothing is printed or looked up. A new output
//! is a file that takes what the others take. Numbers are rounded in `number` only, text from outside goes through `text`.

pub mod channels;
pub mod comparison;
pub mod glossary;
pub mod habits;
pub mod handbook;
pub mod json;
pub mod lead;
mod look;
pub mod markdown;
pub mod number;
pub mod parquet;
pub mod phrase;
mod rounded;
pub mod rows;
pub mod schema;
pub mod sheet;
pub mod spill;
pub mod table;
pub mod targets;
pub mod text;

pub use look::Look;
