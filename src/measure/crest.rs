//! # Crest factor
//!
//! How far the peaks of a channel stand above its average power.
//!
//! - **Formula:** whole: `20 lg max |x[n]| - 10 lg((1/N) Σ x[n]²)`. Active: 99th percentile of the peaks of 400 ms windows
//!   minus the energy mean of their powers, over windows that pass a gate. Typical: median of window peak minus window RMS
//! - **Unit:** dB
//! - **Range:** 0 (square wave) upwards; 3.0 for a sine, 12 to 20 for programme
//! - **Source:** definition; the gated forms are common practice, so that pauses between sentences don't raise the figure
//! - **Window:** the whole recording, or 400 ms every 100 ms inside the stretches given
//! - **No value:** the channel is silent, or active for too short a time
//! - **Misleads when:** a single click sets the peak of the whole; the other two forms don't mind

use super::level::Levels;
use super::sliding::{energy_mean_db, enough, level_db, windows};
use super::standing::{HOP_S, WINDOW_S};
use super::trace::FLOOR_DB;
use crate::dsp::percentile::{median, percentile};
use crate::unit::{Span, Unmeasured};

/// Windows at or below this level don't count, in dBFS.
const FLOOR_DBFS: f64 = -65.0;

/// Windows this far below the energy mean of the others don't count, in dB.
const RELATIVE_GATE_DB: f64 = -15.0;

/// Share of window peaks at or below the one that is used.
const PEAK_SHARE: f64 = 0.99;

/// Crest factor of the whole recording, in dB.
///
/// # Errors
///
/// [`Unmeasured::Silent`] if no sample differs from zero.
#[expect(clippy::cast_precision_loss, reason = "a count of samples is far below 2^52")]
pub fn whole_db(levels: &Levels) -> Result<f64, Unmeasured> {
    if levels.top <= 0.0 {
        return Err(Unmeasured::Silent);
    }
    let power = levels.sum_square / levels.n_samples as f64;
    Ok(20.0 * levels.top.log10() - 10.0 * power.log10())
}

/// Crest factor while active, in dB.
///
/// # Errors
///
/// [`Unmeasured::NeverActive`], [`Unmeasured::TooLittleActive`], or [`Unmeasured::Silent`] if no window passes the gate.
pub fn active_db(levels: &Levels, active: &[Span]) -> Result<f64, Unmeasured> {
    let (peaks, powers): (Vec<f64>, Vec<f64>) = gated(levels, active)?.into_iter().unzip();
    let peak_dbfs = percentile(&peaks, PEAK_SHARE).ok_or(Unmeasured::Silent)?;
    Ok(peak_dbfs - energy_mean_db(&powers))
}

/// Typical crest factor of a 400 ms window while active, in dB.
///
/// # Errors
///
/// [`Unmeasured::NeverActive`], [`Unmeasured::TooLittleActive`], or [`Unmeasured::Silent`] if no window passes the gate.
pub fn typical_db(levels: &Levels, active: &[Span]) -> Result<f64, Unmeasured> {
    let crests: Vec<f64> =
        gated(levels, active)?.into_iter().map(|(peak, power)| peak - power).collect();
    median(&crests).ok_or(Unmeasured::Silent)
}

/// Crest factor of each stretch of `window_s`, one after the other, in dB; `None` in silence.
pub fn course_db(levels: &Levels, window_s: f64) -> Vec<Option<f64>> {
    #[expect(clippy::cast_precision_loss, reason = "a count of steps is far below 2^52")]
    let whole = Span::new(0.0, levels.power.len() as f64 * levels.power.step_s());
    let windows = windows(&levels.power, &[whole], window_s, window_s);
    let pairs = windows.into_iter().map(|window| pair(levels, window));
    pairs.map(|(peak, power)| (power > FLOOR_DB).then_some(peak - power)).collect()
}

/// Peak and level of each window that passes the gate, in dBFS.
fn gated(levels: &Levels, active: &[Span]) -> Result<Vec<(f64, f64)>, Unmeasured> {
    enough(active)?;
    let windows = windows(&levels.power, active, WINDOW_S, HOP_S);
    let pairs = windows.into_iter().map(|window| pair(levels, window));
    let mut pairs: Vec<(f64, f64)> = pairs.filter(|&(_, power)| power > FLOOR_DBFS).collect();
    let powers: Vec<f64> = pairs.iter().map(|&(_, power)| power).collect();
    let gate_dbfs = energy_mean_db(&powers) + RELATIVE_GATE_DB;
    pairs.retain(|&(_, power)| power > gate_dbfs);
    if pairs.is_empty() { Err(Unmeasured::Silent) } else { Ok(pairs) }
}

fn pair(levels: &Levels, window: std::ops::Range<usize>) -> (f64, f64) {
    let power = levels.power.mean_power(window.start, window.end);
    let peak_dbfs = window.map(|step| levels.peak.level_db(step)).fold(FLOOR_DB, f64::max);
    (peak_dbfs, level_db(power))
}
