//! Scores of what a review says the operator did, against desks whose every setting is known.
//!
//! A desk is drawn by seed for a stage that was rendered before: its raw recordings, mixed outside the program. Never used to set a
//! threshold.

pub(crate) mod bars;
pub(crate) mod desk;
pub(crate) mod draw;
pub(crate) mod score;
pub(crate) mod stage;
pub(crate) mod strip;
pub(crate) mod table;
pub(crate) mod witness;

/// Sample rate of all stages, in Hz.
pub(crate) const RATE_HZ: usize = 48_000;
