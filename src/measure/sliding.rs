//! Windows of steps inside stretches of time.
//!
//! Takes stretches and the step of a trace, gives the windows that lie in them. Every measure of what a channel does while
//! it is active goes through here, so that all of them mean the same windows. Never gives a window that mixes a stretch with
//! what lies outside, but for stretches shorter than a window.

use std::ops::Range;

use super::Trace;
use super::trace::FLOOR_DB;
use crate::unit::{Span, Unmeasured};

/// Shortest time of activity that carries a figure, in seconds. Less is a handful of overlapping windows; what a note
/// needs beyond that is the note's own matter.
pub const ACTIVE_NEEDS_S: f64 = 3.0;

/// Slack for borders that fall on a step, in steps.
const SLACK: f64 = 1e-6;

/// The steps that lie wholly inside a stretch, of `n_steps` there are.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the places are clamped to the steps there are"
)]
pub fn steps_inside(span: Span, step_s: f64, n_steps: usize) -> Range<usize> {
    let most = steps_f64(n_steps);
    let start = (span.start_s / step_s - SLACK).ceil().clamp(0.0, most) as usize;
    let end = (span.end_s / step_s + SLACK).floor().clamp(0.0, most) as usize;
    start..end.max(start)
}

/// The windows inside stretches: from the begin of each, one after every hop. A stretch that is shorter than a window gives
/// the one window around its middle, as far as there are steps.
///
/// # Panics
///
/// If a window or a hop is shorter than a step.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "windows are a few steps long"
)]
pub fn windows(trace: &Trace, spans: &[Span], window_s: f64, hop_s: f64) -> Vec<Range<usize>> {
    let in_steps = |length_s: f64| (length_s / trace.step_s()).round() as usize;
    let (window, hop) = (in_steps(window_s), in_steps(hop_s));
    assert!(window > 0 && hop > 0, "a window of {window_s} s and a hop of {hop_s} s have steps");
    let mut found = Vec::new();
    for &span in spans {
        let inside = steps_inside(span, trace.step_s(), trace.len());
        if inside.len() >= window {
            let starts = (inside.start..=inside.end - window).step_by(hop);
            found.extend(starts.map(|start| start..start + window));
        } else if !inside.is_empty() {
            let middle = usize::midpoint(inside.start, inside.end);
            let start = middle.saturating_sub(window / 2);
            found.push(start..(start + window).min(trace.len()));
        }
    }
    found
}

/// Levels of the windows inside stretches, in dB.
///
/// # Errors
///
/// [`Unmeasured::NeverActive`] without a window, [`Unmeasured::TooLittleActive`] below [`ACTIVE_NEEDS_S`],
/// [`Unmeasured::Silent`] if all windows are.
pub fn levels_db(
    trace: &Trace,
    spans: &[Span],
    window_s: f64,
    hop_s: f64,
) -> Result<Vec<f64>, Unmeasured> {
    enough(spans)?;
    let windows = windows(trace, spans, window_s, hop_s);
    let levels = windows.iter().map(|window| level_db(trace.mean_power(window.start, window.end)));
    let levels: Vec<f64> = levels.collect();
    match levels.iter().all(|&level_db| level_db <= FLOOR_DB) {
        _ if levels.is_empty() => Err(Unmeasured::NeverActive),
        true => Err(Unmeasured::Silent),
        false => Ok(levels),
    }
}

/// Whether there is enough activity.
///
/// # Errors
///
/// [`Unmeasured::NeverActive`] without any, [`Unmeasured::TooLittleActive`] below [`ACTIVE_NEEDS_S`].
pub fn enough(spans: &[Span]) -> Result<(), Unmeasured> {
    let have_s: f64 = spans.iter().map(|span| span.length_s()).sum();
    if have_s <= 0.0 {
        return Err(Unmeasured::NeverActive);
    }
    if have_s < ACTIVE_NEEDS_S {
        return Err(Unmeasured::TooLittleActive { have_s, need_s: ACTIVE_NEEDS_S });
    }
    Ok(())
}

/// Level of a power, in dB; [`FLOOR_DB`] for silence.
pub fn level_db(power: f64) -> f64 {
    if power > 0.0 { (10.0 * power.log10()).max(FLOOR_DB) } else { FLOOR_DB }
}

/// Mean power of levels, as a level: the energy mean. [`FLOOR_DB`] where there are none.
pub fn energy_mean_db(levels_db: &[f64]) -> f64 {
    let sum: f64 = levels_db.iter().map(|level_db| 10f64.powf(level_db / 10.0)).sum();
    if levels_db.is_empty() { FLOOR_DB } else { level_db(sum / steps_f64(levels_db.len())) }
}

#[expect(clippy::cast_precision_loss, reason = "a count of steps is far below 2^52")]
fn steps_f64(n_steps: usize) -> f64 {
    n_steps as f64
}
