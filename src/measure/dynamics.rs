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

/// Levels moved by the gain of each second, in dB; it is held where none is told, and 0 dB before the first.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss,
    reason = "counts of steps are far below 2^52, and a time is not negative"
)]
pub fn moved(k_power: &Trace, gain_db: &[Option<f32>]) -> Trace {
    let mut moved = Trace::new(k_power.step_s());
    let (mut here, mut gain) = (None, 1.0);
    k_power.each_power(0..k_power.len(), |power| {
        let second = (moved.len() as f64 * k_power.step_s()) as usize;
        if here.replace(second) != Some(second) {
            let gain_db = gain_db.get(second).copied().flatten();
            gain = gain_db.map_or(gain, |gain_db| 10f64.powf(f64::from(gain_db) / 10.0));
        }
        moved.push_power(power * gain);
    });
    moved
}

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
