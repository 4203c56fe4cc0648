//! Faults of sound in drawn clips: what is planted, what is found, and the scores.
//!
//! Takes a seed, gives a table. Sounds come from the demo's instruments, faults from formulas of this folder; the meters of the
//! program see the clips as they would see a recording. Seeds from [`SCORED`] to below 1000 are for scoring, those from 1000 on
//! for tuning.

#[path = "../../support/band.rs"]
pub(crate) mod band;
pub(crate) mod clip;
pub(crate) mod clocks;
#[path = "../../support/drifting.rs"]
pub(crate) mod drifting;
pub(crate) mod gains;
pub(crate) mod knocks;
pub(crate) mod level;
pub(crate) mod plant;
pub(crate) mod score;
pub(crate) mod table;
pub(crate) mod told;
pub(crate) mod trial;
pub(crate) mod voices;
#[path = "../../support/wave.rs"]
pub(crate) mod wave;

/// The first seed that no border was set with.
pub(crate) const SCORED: u64 = 2;
