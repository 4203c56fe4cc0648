//! # Bangs that change the floor
//!
//! Short bangs after which a channel is not what it was: a plug pulled or put in, phantom power switched.
//!
//! - **Formula:** a step of 10 ms, -45 dBFS or more, that stands 25 dB or more over the median of the second before and over that
//!   of the second from 0.1 s after, highest within 0.5 s around, at most 50 ms wide at -15 dB; and a floor (10th percentile) of
//!   the 3 s before and of the 3 s from 0.5 s after that differ by 6 dB or more, half of it from 0.15 to 0.65 s after
//! - **Unit:** s
//! - **Range:** 0 bangs upwards
//! - **Source:** common practice
//! - **Window:** whole recording without its first and last 3.5 s
//! - **No value:** never; there may be none
//! - **Misleads when:** one loud hit in silence is followed at once by soft music: ask what the others do then

use super::Trace;
use crate::dsp::percentile::{median, percentile};

/// Lowest bang that can do harm or be noticed, in dBFS.
const LOWEST_DBFS: f64 = -45.0;

/// How far it stands out, its width, and how far the floor moves.
const OVER_DB: f64 = 25.0;
const WIDTH_DB: f64 = 15.0;
const WIDEST_S: f64 = 0.05;
const FLOOR_DB: f64 = 6.0;

/// Where the floor is taken, in seconds re the bang: before, at once behind, and later.
const BEFORE_S: [f64; 2] = [-3.1, -0.1];
const SOON_S: [f64; 2] = [0.15, 0.65];
const LATER_S: [f64; 2] = [0.5, 3.5];

/// Share of the steps under the floor.
const FLOOR_SHARE: f64 = 0.10;

/// A bang.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bang {
    /// When, in seconds.
    pub at_s: f64,
    /// Its level over that of the second before, in dB.
    pub over_db: f64,
    /// By how much the floor rises with it; negative if it falls, in dB.
    pub floor_change_db: f64,
}

/// The bangs of a level in steps of 10 ms.
#[expect(clippy::cast_precision_loss, reason = "a count of steps is far below 2^52")]
pub fn bangs(levels: &Trace) -> Vec<Bang> {
    let steps = |time_s: f64| levels.step_at(time_s);
    let (second, half, near) = (steps(1.0), steps(0.5), steps(0.1));
    let width = steps(WIDEST_S);
    let margin = steps(3.5);
    let all_db = levels.levels_in_db(0..levels.len());
    let level = |step: usize| all_db[step];
    let mut found: Vec<Bang> = Vec::new();
    let mut at = margin;
    while at + margin < levels.len() {
        let top = level(at);
        let is_candidate = top >= LOWEST_DBFS
            && top >= level(at - near) + OVER_DB
            && top >= level(at + near) + WIDTH_DB
            && (at - half..at + half).all(|step| level(step) <= top);
        if !is_candidate {
            at += 1;
            continue;
        }
        let is_high = |step: &usize| level(*step) > top - WIDTH_DB;
        let n_high = (at - near..at + near).filter(is_high).count();
        let middle = |from: usize, to: usize| {
            median(&(from..to).map(level).collect::<Vec<_>>()).unwrap_or(f64::INFINITY)
        };
        let before = middle(at - second, at - near / 2);
        let after = middle(at + near, at + near + second);
        let at_s = at as f64 * levels.step_s();
        let change = floor_change_db(levels, at_s).unwrap_or_default();
        // A plug changes the floor at once, music that begins later does not.
        let soon = change_db(levels, at_s, SOON_S).unwrap_or_default();
        let is_another = change.abs() >= FLOOR_DB && soon * change.signum() >= FLOOR_DB / 2.0;
        if n_high <= width && top >= before.max(after) + OVER_DB && is_another {
            found.push(Bang { at_s, over_db: top - before, floor_change_db: change });
        }
        at += half;
    }
    found
}

/// By how much the floor of a level is higher after a moment than before it, in dB.
pub fn floor_change_db(levels: &Trace, at_s: f64) -> Option<f64> {
    change_db(levels, at_s, LATER_S)
}

/// Floor of a stretch behind a moment minus that of the 3 s before it.
fn change_db(levels: &Trace, at_s: f64, behind_s: [f64; 2]) -> Option<f64> {
    let place = |time_s: f64| levels.step_at(at_s + time_s);
    let floor = |[from_s, to_s]: [f64; 2]| {
        let steps = place(from_s)..place(to_s).min(levels.len());
        percentile(&levels.levels_in_db(steps), FLOOR_SHARE)
    };
    Some(floor(behind_s)? - floor(BEFORE_S)?)
}
