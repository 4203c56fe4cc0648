//! Quantities: units, facts with their confidence, places in time, and the reasons why a value is missing.
//!
//! Numbers are `f64` and carry their unit in the name (`peak_dbfs`, `start_s`). A new unit is a variant of
//! [`Unit`]; a new reason for silence is a variant of [`Unmeasured`].

mod fact;
pub mod pitch;
mod span;
pub mod spans;
mod symbol;

pub use fact::{Fact, Unmeasured};
pub use span::Span;
pub use symbol::Unit;
