//! # Fades of a wireless link
//!
//! Short gaps in which a channel falls below everything that its microphone ever hears: its receiver has shut.
//!
//! - **Formula:** a run of 20 ms to 3 s, in steps of 10 ms, 8 dB or more under the floor (10th percentile of the levels within 15 s on
//!   either side); its first step 30 dB or more under the last but one before it; behind it back at the floor or above,
//!   within two steps
//! - **Unit:** s
//! - **Range:** 0 gaps upwards
//! - **Source:** common practice: a receiver mutes abruptly where the field fails, and a voice that pauses leaves the sound of the stage
//! - **Window:** whole recording
//! - **No value:** never; there may be none
//! - **Misleads when:** a switch at the microphone is off for a moment, or a gate stands before the tap. Gaps are not found where the
//!   receiver's own noise is as loud as the stage

use super::Trace;
use crate::dsp::percentile::percentile;
use crate::unit::Span;

/// How far a gap lies under the floor, and the share of the levels under the floor.
const UNDER_FLOOR_DB: f64 = 8.0;
const FLOOR_SHARE: f64 = 0.10;

/// The floor is that of so much time on either side, in seconds.
const AROUND_S: f64 = 15.0;

/// Shortest and longest gap, in seconds.
const GAP_S: [f64; 2] = [0.02, 3.0];

/// How far the level falls at once: a note that is stopped falls by 20 dB at most.
const FALL_DB: f64 = 30.0;

/// Steps within which it falls: the one right before the gap holds a part of it.
const BEFORE_STEPS: usize = 2;

/// Lowest level that may be the floor of a stage, in dBFS: below it an input is open or closed, and nothing fades.
const STAGE_DBFS: f64 = -100.0;

/// Floors are held for stretches of this length, in seconds: a look at every step would take the square of the time.
const STRETCH_S: f64 = 5.0;

/// The gaps of a level in steps of 10 ms, in order.
pub fn fades(levels: &Trace) -> Vec<Span> {
    let all_db = levels.levels_in_db(0..levels.len());
    let level = |step: usize| all_db[step];
    let [fewest, most] = GAP_S.map(|length_s| levels.step_at(length_s));
    let floors = floors_db(levels);
    let stretch = levels.step_at(STRETCH_S).max(1);
    let mut found = Vec::new();
    let mut at = BEFORE_STEPS;
    while at < levels.len() {
        let floor_db = floors[at / stretch];
        let is_low = |step: usize| step < levels.len() && level(step) <= floor_db - UNDER_FLOOR_DB;
        if floor_db < STAGE_DBFS || !is_low(at) {
            at += 1;
            continue;
        }
        let n_low = (at..).take_while(|&step| is_low(step)).count();
        let end = at + n_low;
        let behind_db = (end..(end + 2).min(levels.len())).map(level).fold(f64::MIN, f64::max);
        let is_cut = level(at - BEFORE_STEPS) >= level(at) + FALL_DB && behind_db >= floor_db;
        if (fewest..=most).contains(&n_low) && is_cut {
            found.push(span(levels, at, end));
        }
        at = end;
    }
    found
}

/// The floor around each stretch, in dB.
fn floors_db(levels: &Trace) -> Vec<f64> {
    let (stretch, around) = (levels.step_at(STRETCH_S).max(1), levels.step_at(AROUND_S));
    (0..levels.len())
        .step_by(stretch)
        .map(|start| {
            let steps = start.saturating_sub(around)..(start + stretch + around).min(levels.len());
            percentile(&levels.levels_in_db(steps), FLOOR_SHARE).unwrap_or(f64::MIN)
        })
        .collect()
}

#[expect(clippy::cast_precision_loss, reason = "a count of steps is far below 2^52")]
fn span(levels: &Trace, start: usize, end: usize) -> Span {
    Span::new(start as f64 * levels.step_s(), end as f64 * levels.step_s())
}
