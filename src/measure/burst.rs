//! # Bursts
//!
//! Claps, bursting balloons and the like: short loud sounds with quiet before and after, after which the hall can be heard
//! to ring.
//!
//! - **Formula:** level of 10 ms; a step 30 dB or more over the median of the second before, the highest within 2 s around,
//!   that is reached within 50 ms, from which the level of 100 ms never rises again by more than 3 dB until it has fallen
//!   by 25 dB
//! - **Unit:** s
//! - **Range:** from 1 s after the begin to 2 s before the end
//! - **Source:** ISO 3382-2:2008 (35 dB over the noise for a decay time of 20 dB); how it is found is our own
//! - **Window:** whole recording of a microphone in the room
//! - **No value:** never; there may be none
//! - **Misleads when:** a drum is hit once in a quiet hall: its own ringing passes for that of the hall

use super::Trace;
use crate::dsp::percentile::median;
use crate::unit::Span;

/// What makes a burst.
const OVER_DB: f64 = 30.0;
const FALLS_DB: f64 = 25.0;
const RISES_DB: f64 = 3.0;
const REACHED_S: f64 = 0.05;
const BEFORE_S: f64 = 1.0;
const AFTER_S: f64 = 2.0;
const BLOCK_S: f64 = 0.1;

/// The bursts of a level in steps of 10 ms: from the burst to where it has fallen.
#[expect(clippy::cast_precision_loss, reason = "counts of steps are small")]
pub fn bursts(levels: &Trace) -> Vec<Span> {
    let steps = |time_s: f64| steps(time_s, levels.step_s());
    let (before, after, block) = (steps(BEFORE_S), steps(AFTER_S), steps(BLOCK_S));
    let db: Vec<f64> = levels.levels_in_db(0..levels.len());
    let mut found: Vec<Span> = Vec::new();
    let mut at = before;
    while at + after < db.len() {
        let is_top = db[at - 1] < db[at]
            && db[at - before..at].iter().chain(&db[at + 1..at + after]).all(|&db_| db_ <= db[at]);
        let rise_from = at - steps(REACHED_S);
        let is_burst = is_top
            && db[rise_from] < db[at] - FALLS_DB
            && median(&db[at - before..rise_from]).is_some_and(|quiet| db[at] >= quiet + OVER_DB);
        let fallen = if is_burst { fallen(levels, at, at + after, block) } else { None };
        if let Some(end) = fallen {
            found.push(Span::new(at as f64 * levels.step_s(), end as f64 * levels.step_s()));
            at = end;
        }
        at += 1;
    }
    found
}

/// The step at which the level has fallen far enough, if it never rises before.
fn fallen(levels: &Trace, from: usize, until: usize, block: usize) -> Option<usize> {
    let level_db =
        |at: usize| 10.0 * levels.mean_power(at, at + block).max(f64::MIN_POSITIVE).log10();
    let top_db = level_db(from);
    let mut lowest_db = top_db;
    for at in (from..until).step_by(block) {
        let db = level_db(at);
        if db > lowest_db + RISES_DB {
            return None;
        }
        lowest_db = lowest_db.min(db);
        if db < top_db - FALLS_DB {
            return Some(at);
        }
    }
    None
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "some hundred steps at most"
)]
fn steps(time_s: f64, step_s: f64) -> usize {
    ((time_s / step_s).round() as usize).max(1)
}
