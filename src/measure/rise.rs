//! # Rise of a level
//!
//! By how much a channel gets louder at a moment: whether something begins there.
//!
//! - **Formula:** highest step from 30 ms before the moment to 40 ms after it, minus the median of the steps from 200 to 50 ms
//!   before it
//! - **Unit:** dB
//! - **Range:** 0 in steady sound; 6 and more at an onset
//! - **Source:** common practice; sound needs up to 30 ms over a stage
//! - **Window:** 0.24 s around the moment, in steps of 10 ms
//! - **No value:** nothing was recorded before the moment
//! - **Misleads when:** two things begin within 70 ms of each other

use super::Trace;
use crate::dsp::percentile::median;

/// Where the onset is looked for, and what it is compared with, in seconds re the moment.
const ONSET_S: [f64; 2] = [-0.030, 0.040];
const BEFORE_S: [f64; 2] = [-0.200, -0.050];

/// Rise of a level at a moment, in dB.
pub fn rise_db(levels: &Trace, at_s: f64) -> Option<f64> {
    let steps = |[from_s, to_s]: [f64; 2]| {
        levels.step_at(at_s + from_s)..(levels.step_at(at_s + to_s) + 1).min(levels.len())
    };
    let before: Vec<f64> = steps(BEFORE_S).map(|step| levels.level_db(step)).collect();
    let onset = steps(ONSET_S).map(|step| levels.level_db(step)).reduce(f64::max)?;
    Some(onset - median(&before)?)
}
