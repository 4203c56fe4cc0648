//! A stretch of time in the session.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A stretch of time, in seconds from the start of the session.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Span {
    /// Begin, in seconds.
    pub start_s: f64,
    /// End, in seconds; not before the begin.
    pub end_s: f64,
}

impl Span {
    /// The stretch from `start_s` to `end_s`.
    pub const fn new(start_s: f64, end_s: f64) -> Self {
        Self { start_s, end_s }
    }

    /// Length in seconds.
    pub fn length_s(self) -> f64 {
        self.end_s - self.start_s
    }

    /// Whether the moment `at_s` lies inside (the end is outside).
    pub fn holds(self, at_s: f64) -> bool {
        self.start_s <= at_s && at_s < self.end_s
    }

    /// The part that both stretches share, if there is one.
    pub fn shared(self, other: Self) -> Option<Self> {
        let (start_s, end_s) = (self.start_s.max(other.start_s), self.end_s.min(other.end_s));
        (start_s < end_s).then_some(Self { start_s, end_s })
    }
}
