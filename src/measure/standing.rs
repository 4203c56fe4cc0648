//! # Loud, typical, pause and quiet level
//!
//! Where a channel's level stands: when it plays loud, as a rule, while it rests, and while everybody rests.
//!
//! - **Formula:** percentiles of windowed mean squares in dB: loud the 95th and typical the 50th of 400 ms windows while
//!   active, pause the 50th of 400 ms windows while inactive and others play, quiet the 5th of 1 s windows while all rest
//! - **Unit:** dBFS, plain RMS (a full-scale sine reads -3.0)
//! - **Range:** about -120 to 0
//! - **Source:** common practice
//! - **Window:** 400 ms every 100 ms, 1 s every 0.5 s, wholly inside the stretches given
//! - **No value:** too little time, or the channel is silent there
//! - **Misleads when:** the stretches hold spill: the typical level is then that of the neighbours

use super::Trace;
use super::sliding::{ACTIVE_NEEDS_S, levels_db};
use crate::dsp::percentile::percentile;
use crate::unit::{Span, Unmeasured};

/// Window and hop of the levels while playing and resting, in seconds: 400 ms as in momentary loudness.
pub const WINDOW_S: f64 = 0.4;
/// Hop of the same, in seconds.
pub const HOP_S: f64 = 0.1;

/// Window and hop of the quiet level, in seconds: long enough to even out hum and fans.
const QUIET_WINDOW_S: f64 = 1.0;
const QUIET_HOP_S: f64 = 0.5;

/// Shares of the windows at or below the figure.
const LOUD_SHARE: f64 = 0.95;
const TYPICAL_SHARE: f64 = 0.50;
const QUIET_SHARE: f64 = 0.05;

/// Loud level: 95th percentile of 400 ms RMS while active, in dBFS.
///
/// # Errors
///
/// [`Unmeasured::NeverActive`], [`Unmeasured::TooLittleActive`] or [`Unmeasured::Silent`].
pub fn loud_level_dbfs(power: &Trace, active: &[Span]) -> Result<f64, Unmeasured> {
    share_of(levels_db(power, active, WINDOW_S, HOP_S)?, LOUD_SHARE)
}

/// Typical level: median of 400 ms RMS while active, in dBFS.
///
/// # Errors
///
/// [`Unmeasured::NeverActive`], [`Unmeasured::TooLittleActive`] or [`Unmeasured::Silent`].
pub fn typical_level_dbfs(power: &Trace, active: &[Span]) -> Result<f64, Unmeasured> {
    share_of(levels_db(power, active, WINDOW_S, HOP_S)?, TYPICAL_SHARE)
}

/// Pause level: median of 400 ms RMS while the channel rests and others play, in dBFS.
///
/// # Errors
///
/// A reason if there are no such stretches or they are digital silence, [`Unmeasured::TooShort`] below 3 s.
pub fn pause_level_dbfs(power: &Trace, resting: &[Span]) -> Result<f64, Unmeasured> {
    let levels = levels_db(power, resting, WINDOW_S, HOP_S).map_err(|reason| match reason {
        Unmeasured::NeverActive => Unmeasured::Because("the channel never rests while others play"),
        other => elsewhere(other),
    })?;
    share_of(levels, TYPICAL_SHARE)
}

/// Quiet level: 5th percentile of 1 s RMS while every channel is quiet, in dBFS.
///
/// # Errors
///
/// [`Unmeasured::NoQuietStretch`] without such stretches, [`Unmeasured::TooShort`] below 3 s, a reason in digital silence.
pub fn quiet_level_dbfs(power: &Trace, quiet: &[Span]) -> Result<f64, Unmeasured> {
    let levels =
        levels_db(power, quiet, QUIET_WINDOW_S, QUIET_HOP_S).map_err(|reason| match reason {
            Unmeasured::NeverActive => Unmeasured::NoQuietStretch,
            other => elsewhere(other),
        })?;
    share_of(levels, QUIET_SHARE)
}

/// A reason that speaks of activity, for stretches without.
fn elsewhere(reason: Unmeasured) -> Unmeasured {
    match reason {
        Unmeasured::TooLittleActive { have_s, .. } => {
            Unmeasured::TooShort { have_s, need_s: ACTIVE_NEEDS_S }
        }
        Unmeasured::Silent => Unmeasured::Because("the channel is digitally silent there"),
        other => other,
    }
}

fn share_of(levels_db: Vec<f64>, share: f64) -> Result<f64, Unmeasured> {
    match percentile(&levels_db, share) {
        Some(level_db) if level_db > super::trace::FLOOR_DB => Ok(level_db),
        _ => Err(Unmeasured::Because("the channel is digitally silent there")),
    }
}
