//! What changed between two reviews: findings, numbers, and what makes the two hard to compare.
//!
//! Takes two stored reviews, gives a [`Comparison`]. Never praises or blames a step from one evening to the next, never compares
//! people, and tells no difference that is smaller than what the numbers are sure of.

mod chart;
mod finding;
mod lineup;
mod number;

pub use chart::{Chart, Row};
pub use finding::{Course, Finding};
pub use lineup::Evening;
pub use number::Moved;

use serde::Serialize;

use crate::coach::Stored;

/// Name of the format.
pub const SCHEMA: &str = "deskside-comparison/1";

/// What changed between two reviews.
#[derive(Clone, Debug, Serialize)]
pub struct Comparison {
    /// Name of the format: `deskside-comparison/1`.
    pub schema: &'static str,
    /// The earlier review.
    pub then: Evening,
    /// The later one.
    pub now: Evening,
    /// What makes them hard to compare, a sentence each.
    pub differences: Vec<String>,
    /// Findings of either, in the order of fixing.
    pub findings: Vec<Finding>,
    /// Numbers that moved by more than they are sure of.
    pub moved: Vec<Moved>,
    /// How many numbers were compared.
    pub n_compared: usize,
    /// Numbers of changed findings, then and now, against their targets.
    pub charts: Vec<Chart>,
}

/// Compares two reviews.
pub fn compare(then: &Stored, now: &Stored) -> Comparison {
    let pairs = lineup::pairs(&then.reading, &now.reading);
    let findings = finding::findings(then, now);
    let (moved, n_compared) = number::moved(&then.reading, &now.reading, &pairs);
    Comparison {
        schema: SCHEMA,
        then: Evening::of(&then.reading),
        now: Evening::of(&now.reading),
        differences: lineup::differences(then, now, &findings),
        charts: chart::charts(then, now, &findings),
        findings,
        moved,
        n_compared,
    }
}
