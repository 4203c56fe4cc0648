//! # Level spread
//!
//! How far a channel's loudness moves while it is active.
//!
//! - **Formula:** 95th minus 10th percentile of K-weighted levels of 400 ms
//! - **Unit:** LU
//! - **Range:** 0 (a steady tone) to about 30
//! - **Source:** common practice, after the loudness range of EBU Tech 3342 with a shorter window and activity for a gate
//! - **Window:** 400 ms every 100 ms inside the stretches given
//! - **No value:** active for too short a time, or silent
//! - **Misleads when:** the stretches hold spill or long decays: the low end is then not the player's

use super::Trace;
use super::sliding::levels_db;
use super::standing::{HOP_S, WINDOW_S};
use crate::dsp::percentile::percentile;
use crate::unit::{Span, Unmeasured};

/// Ends of the spread, as shares of the windows.
const ENDS: [f64; 2] = [0.10, 0.95];

/// Level spread while active, in LU.
///
/// # Errors
///
/// [`Unmeasured::NeverActive`], [`Unmeasured::TooLittleActive`] or [`Unmeasured::Silent`].
pub fn level_spread_lu(k_power: &Trace, active: &[Span]) -> Result<f64, Unmeasured> {
    let levels = levels_db(k_power, active, WINDOW_S, HOP_S)?;
    let [low, high] = ENDS.map(|share| percentile(&levels, share));
    Ok(high.ok_or(Unmeasured::Silent)? - low.ok_or(Unmeasured::Silent)?)
}
