//! What parts a source from its spill, by how much both overlap.
//!
//! Holds the borders between gate, expander and neither. Never looks for a threshold.

/// Overlap of own hits and spill up to which a gate works, and up to which an expander does, in percent (common practice).
const GATE_PERCENT: f64 = 10.0;
const EXPANDER_PERCENT: f64 = 30.0;

/// What parts a source from its spill.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Parted {
    /// A gate.
    ByGate,
    /// An expander of 6 to 12 dB: soft hits and spill overlap.
    ByExpander,
    /// No threshold: spill is as loud as soft hits.
    ByNothing,
}

impl Parted {
    /// By the share of the spill above the best threshold plus the share of own hits below, in percent.
    pub fn by(overlap_percent: f64) -> Self {
        if overlap_percent <= GATE_PERCENT {
            Self::ByGate
        } else if overlap_percent <= EXPANDER_PERCENT {
            Self::ByExpander
        } else {
            Self::ByNothing
        }
    }

    /// What suits, in words for a table.
    pub const fn word(self) -> &'static str {
        match self {
            Self::ByGate => "a gate",
            Self::ByExpander => "an expander of 6 to 12 dB",
            Self::ByNothing => "neither: spill is as loud as soft hits",
        }
    }
}
