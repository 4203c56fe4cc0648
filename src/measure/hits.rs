//! # Hits and notes
//!
//! How high the hits of drums reach, how often they fall, and how evenly a bass plays its notes.
//!
//! - **Formula:** a hit is a rise of the 10 ms peak by 6 dB over the 50 ms before, within 30 dB of the loudest; hits are
//!   80 ms apart or more; the figure is the 90th percentile of their peaks. A note is a rise of the level of 50 ms by 4 dB
//!   within 60 ms, within 25 dB of the loudest, 120 ms apart or more; its level is the mean power of the 200 ms from there;
//!   the spread is the 90th minus the 10th percentile
//! - **Unit:** dBFS, hits a second, dB
//! - **Range:** -60 to 0 dBFS; 0 to about 12 a second; 0 to about 20 dB
//! - **Source:** common practice
//! - **Window:** inside the stretches given
//! - **No value:** fewer than 5 hits or 8 notes
//! - **Misleads when:** a neighbour's drum spills as loudly as the channel's own; notes are bound without an attack

use std::ops::Range;

use super::Trace;
use super::sliding::{level_db, steps_inside};
use super::trace::FLOOR_DB;
use crate::dsp::percentile::percentile;
use crate::unit::{Span, Unmeasured};

/// Hits that the figure needs.
pub const HITS_NEED: usize = 5;

/// Notes that the spread needs.
pub const NOTES_NEED: usize = 8;

/// How far below the loudest a hit or note may lie, in dB.
const HIT_WITHIN_DB: f64 = 30.0;
const NOTE_WITHIN_DB: f64 = 25.0;

/// Rise that makes a hit or note, in dB.
const HIT_RISE_DB: f64 = 6.0;
const NOTE_RISE_DB: f64 = 4.0;

/// Steps that lie behind a hit and give what it rises from (50 ms); steps that its peak may take to come (50 ms).
const BEFORE_HIT: usize = 5;
const TO_THE_PEAK: usize = 5;

/// Least distance of hits and of notes, in steps.
const HIT_DISTANCE: usize = 8;
const NOTE_DISTANCE: usize = 12;

/// Steps that are averaged for notes (50 ms: a period of the low E of a bass is 24 ms), and how far the rise looks back.
const SMOOTH: usize = 5;
const LOOK_BACK: usize = 6;

/// Length of the part of a note that is measured, in steps (200 ms).
const NOTE_STEPS: usize = 20;

/// Shares of hits and notes at or below the figures; the loudest is a percentile too, so that one knock doesn't hide all.
const HIT_SHARE: f64 = 0.90;
const NOTE_ENDS: [f64; 2] = [0.10, 0.90];
const LOUDEST_SHARE: f64 = 0.99;

/// A hit or note.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hit {
    /// When it begins, in seconds.
    pub at_s: f64,
    /// Its peak (hit) or the level of its first 200 ms (note), in dBFS.
    pub level_dbfs: f64,
}

/// The hits inside stretches, from a trace of squared peaks in steps of 10 ms.
pub fn hits(peak: &Trace, active: &[Span]) -> Vec<Hit> {
    let levels = peak.levels_in_db(0..peak.len());
    let highest_db = |steps: Range<usize>| levels[steps].iter().copied().fold(FLOOR_DB, f64::max);
    let mut found = Vec::new();
    for_each_stretch(peak, active, |steps, loudest_db| {
        let mut next = steps.start;
        for step in steps.clone() {
            let here_db = levels[step];
            let before_db = highest_db(step.saturating_sub(BEFORE_HIT)..step);
            let is_hit = here_db - before_db >= HIT_RISE_DB && here_db > loudest_db - HIT_WITHIN_DB;
            if is_hit && step >= next {
                let until = (step + TO_THE_PEAK).min(peak.len());
                found.push(Hit { at_s: seconds(peak, step), level_dbfs: highest_db(step..until) });
                next = step + HIT_DISTANCE;
            }
        }
    });
    found
}

/// The notes inside stretches, from a trace of power in steps of 10 ms.
pub fn notes(power: &Trace, active: &[Span]) -> Vec<Hit> {
    let mut found: Vec<Hit> = Vec::new();
    for_each_stretch(power, active, |steps, loudest_db| {
        let mut next = steps.start;
        let mut steepest: Option<(usize, f64)> = None;
        for step in steps.start..steps.end.saturating_sub(NOTE_STEPS - 1) {
            let rise_db = rise_db(power, step);
            if rise_db >= NOTE_RISE_DB {
                // The attack is the steepest place of the rise, the first of equals.
                if steepest.is_none_or(|(_, most_db)| rise_db > most_db + 1e-9) {
                    steepest = Some((step, rise_db));
                }
            } else if let Some((at, _)) = steepest.take().filter(|&(at, _)| at >= next) {
                let level_dbfs = level_db(power.mean_power(at, at + NOTE_STEPS));
                if level_dbfs > loudest_db - NOTE_WITHIN_DB {
                    found.push(Hit { at_s: seconds(power, at), level_dbfs });
                    next = at + NOTE_DISTANCE;
                }
            }
        }
    });
    found
}

/// How far the level of the 50 ms from a step on lies above that of the 50 ms that began 60 ms before.
fn rise_db(power: &Trace, step: usize) -> f64 {
    let smooth_db = |from: usize| level_db(power.mean_power(from, from + SMOOTH));
    smooth_db(step) - step.checked_sub(LOOK_BACK).map_or(FLOOR_DB, smooth_db)
}

/// 90th percentile of the peaks of hits, in dBFS.
///
/// # Errors
///
/// [`Unmeasured::TooFewEvents`] below [`HITS_NEED`] hits.
pub fn hit_peak_dbfs(hits: &[Hit]) -> Result<f64, Unmeasured> {
    let [figure] = shares(hits, HITS_NEED, [HIT_SHARE])?;
    Ok(figure)
}

/// Hits in a second of activity.
///
/// # Errors
///
/// [`Unmeasured::NeverActive`] without activity.
#[expect(clippy::cast_precision_loss, reason = "a count of hits is far below 2^52")]
pub fn hits_per_s(hits: &[Hit], active: &[Span]) -> Result<f64, Unmeasured> {
    let active_s: f64 = active.iter().map(|span| span.length_s()).sum();
    if active_s > 0.0 { Ok(hits.len() as f64 / active_s) } else { Err(Unmeasured::NeverActive) }
}

/// Spread of note levels, 90th minus 10th percentile, in dB.
///
/// # Errors
///
/// [`Unmeasured::TooFewEvents`] below [`NOTES_NEED`] notes.
pub fn note_spread_db(notes: &[Hit]) -> Result<f64, Unmeasured> {
    let [low, high] = shares(notes, NOTES_NEED, NOTE_ENDS)?;
    Ok(high - low)
}

fn shares<const N: usize>(
    hits: &[Hit],
    need: usize,
    shares: [f64; N],
) -> Result<[f64; N], Unmeasured> {
    if hits.len() < need {
        return Err(Unmeasured::TooFewEvents { have: hits.len(), need });
    }
    let levels: Vec<f64> = hits.iter().map(|hit| hit.level_dbfs).collect();
    Ok(shares.map(|share| percentile(&levels, share).unwrap_or(FLOOR_DB)))
}

/// Calls `with` for each stretch with its steps and the loudest level of all stretches, unless all is silent.
fn for_each_stretch(trace: &Trace, active: &[Span], mut with: impl FnMut(Range<usize>, f64)) {
    let inside = |&span: &Span| steps_inside(span, trace.step_s(), trace.len());
    let levels: Vec<f64> =
        active.iter().flat_map(|span| trace.levels_in_db(inside(span))).collect();
    let loudest_db = percentile(&levels, LOUDEST_SHARE).unwrap_or(FLOOR_DB);
    if loudest_db > FLOOR_DB {
        active.iter().map(inside).for_each(|steps| with(steps, loudest_db));
    }
}

#[expect(clippy::cast_precision_loss, reason = "a step's number is far below 2^52")]
fn seconds(trace: &Trace, step: usize) -> f64 {
    step as f64 * trace.step_s()
}
