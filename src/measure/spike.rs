//! # Spikes
//!
//! Peaks of a mix that stand far above all others in it.
//!
//! - **Formula:** a peak of 10 ms 6 dB or more above the 99.9th percentile of all such peaks above -60 dBFS; those closer than
//!   1 s are one
//! - **Unit:** s
//! - **Range:** 0 spikes upwards
//! - **Source:** common practice
//! - **Window:** whole recording
//! - **No value:** less than 60 s above -60 dBFS
//! - **Misleads when:** the loudest moment is meant: ask whether an input has an onset there

use super::Trace;
use crate::dsp::percentile::percentile;
use crate::unit::Unmeasured;

/// Share of the peaks below the border, and how far over it a spike stands.
const SHARE: f64 = 0.999;
const OVER_DB: f64 = 6.0;

/// Peaks that count, in dBFS, and how many seconds of them are needed.
const SOUND_DBFS: f64 = -60.0;
const NEEDS_S: f64 = 60.0;

/// Spikes closer than this are one, in seconds.
const JOIN_S: f64 = 1.0;

/// When the spikes of a trace of peaks fall, in seconds.
///
/// # Errors
///
/// [`Unmeasured::TooLittleActive`] below 60 s of sound.
#[expect(clippy::cast_precision_loss, reason = "a count of steps is far below 2^52")]
pub fn spikes_at_s(peaks: &Trace) -> Result<Vec<f64>, Unmeasured> {
    let all = (0..peaks.len()).map(|step| peaks.level_db(step));
    let sounding: Vec<f64> = all.filter(|level_db| *level_db > SOUND_DBFS).collect();
    let have_s = sounding.len() as f64 * peaks.step_s();
    let too_little = Unmeasured::TooLittleActive { have_s, need_s: NEEDS_S };
    if have_s < NEEDS_S {
        return Err(too_little);
    }
    let border_db = percentile(&sounding, SHARE).ok_or(too_little)? + OVER_DB;
    let mut at_s: Vec<f64> = Vec::new();
    for step in (0..peaks.len()).filter(|step| peaks.level_db(*step) >= border_db) {
        let here_s = step as f64 * peaks.step_s();
        if at_s.last().is_none_or(|last_s| here_s - last_s >= JOIN_S) {
            at_s.push(here_s);
        }
    }
    Ok(at_s)
}
