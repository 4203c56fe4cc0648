//! What is printed: numbers, text from outside, tables, JSON, Markdown, the handbook.

mod channels;
mod glossary;
mod handbook;
mod json;
mod markdown;
mod number;
mod spill;
mod table;
mod targets;
mod text;
mod words;
