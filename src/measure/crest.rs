//! # Crest factor
//!
//! How far the peaks of a channel stand above its average power.
//!
//! - **Formula:** whole: `20 lg max |x[n]| - 10 lg((1/N) Σ x[n]²)`. Active: 99th percentile of the peaks of 400 ms windows
//!   that pass a gate, minus the energy mean of what they cover without its pauses of 0.1 s or more (30 dB down). Typical:
//!   median of window peak minus window RMS
//! - **Unit:** dB
//! - **Range:** 0 (square wave) upwards; 3.0 for a sine, 12 to 20 for programme
//! - **Source:** definition; the gated forms are common practice, so that pauses between sentences don't raise the figure
//! - **Window:** the whole recording, or 400 ms every 100 ms inside the stretches given
//! - **No value:** the channel is silent, or active for too short a time
//! - **Misleads when:** a single click sets the peak of the whole; the other two forms don't mind

use std::ops::Range;

use super::Trace;
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

/// A pause: steps this far below the energy mean of the windows, for so many steps of 10 ms. Shorter dips are the source's own.
const PAUSE_DB: f64 = -30.0;
const PAUSE_STEPS: usize = 10;

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
    let windows = gated(levels, active)?;
    let peaks: Vec<f64> = windows.iter().map(|window| window.peak_dbfs).collect();
    let peak_dbfs = percentile(&peaks, PEAK_SHARE).ok_or(Unmeasured::Silent)?;
    Ok(peak_dbfs - without_pauses_dbfs(&levels.power, &windows))
}

/// Energy mean of the steps that some windows cover, without pauses, in dBFS.
fn without_pauses_dbfs(power: &Trace, windows: &[Window]) -> f64 {
    let powers: Vec<f64> = windows.iter().map(|window| window.power_dbfs).collect();
    let mean_dbfs = energy_mean_db(&powers);
    let (mut kept, mut quiet, mut next) = (Vec::new(), Vec::new(), 0);
    for window in windows {
        for step in window.steps.start.max(next)..window.steps.end {
            let step_dbfs = power.level_db(step);
            if step_dbfs < mean_dbfs + PAUSE_DB {
                quiet.push(step_dbfs);
                continue;
            }
            if quiet.len() < PAUSE_STEPS {
                kept.append(&mut quiet);
            }
            quiet.clear();
            kept.push(step_dbfs);
        }
        next = next.max(window.steps.end);
    }
    energy_mean_db(&kept)
}

/// Typical crest factor of a 400 ms window while active, in dB.
///
/// # Errors
///
/// [`Unmeasured::NeverActive`], [`Unmeasured::TooLittleActive`], or [`Unmeasured::Silent`] if no window passes the gate.
pub fn typical_db(levels: &Levels, active: &[Span]) -> Result<f64, Unmeasured> {
    let crests: Vec<f64> =
        gated(levels, active)?.iter().map(|window| window.peak_dbfs - window.power_dbfs).collect();
    median(&crests).ok_or(Unmeasured::Silent)
}

/// Crest factor of each stretch of `window_s`, one after the other, in dB; `None` in silence.
pub fn course_db(levels: &Levels, window_s: f64) -> Vec<Option<f64>> {
    #[expect(clippy::cast_precision_loss, reason = "a count of steps is far below 2^52")]
    let whole = Span::new(0.0, levels.power.len() as f64 * levels.power.step_s());
    let windows = windows(&levels.power, &[whole], window_s, window_s);
    let crest = |window: Window| window.peak_dbfs - window.power_dbfs;
    let read = windows.into_iter().map(|steps| Window::of(levels, steps));
    read.map(|window| (window.power_dbfs > FLOOR_DB).then(|| crest(window))).collect()
}

/// The windows that pass the gate.
fn gated(levels: &Levels, active: &[Span]) -> Result<Vec<Window>, Unmeasured> {
    enough(active)?;
    let windows = windows(&levels.power, active, WINDOW_S, HOP_S);
    let read = windows.into_iter().map(|steps| Window::of(levels, steps));
    let mut passing: Vec<Window> = read.filter(|window| window.power_dbfs > FLOOR_DBFS).collect();
    let powers: Vec<f64> = passing.iter().map(|window| window.power_dbfs).collect();
    let gate_dbfs = energy_mean_db(&powers) + RELATIVE_GATE_DB;
    passing.retain(|window| window.power_dbfs > gate_dbfs);
    if passing.is_empty() { Err(Unmeasured::Silent) } else { Ok(passing) }
}

/// Steps with their peak and level.
struct Window {
    steps: Range<usize>,
    peak_dbfs: f64,
    power_dbfs: f64,
}

impl Window {
    fn of(levels: &Levels, steps: Range<usize>) -> Self {
        let power = levels.power.mean_power(steps.start, steps.end);
        let peak_dbfs = levels.peak.highest_db(steps.clone());
        Self { peak_dbfs, power_dbfs: level_db(power), steps }
    }
}
