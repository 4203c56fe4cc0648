//! # When a source rests
//!
//! The frames in which what a microphone hears is taken for spill, while it is found how it follows the others.
//!
//! - **Formula:** at first: own separated power more than 15 dB under its 98th percentile, if that holds for 18 % of the frames; then, by
//!   what was fitted: excess under 2.5 dB, or under its 10th percentile plus 3 dB if that is less, and own power more than 8 dB under its
//!   98th percentile
//! - **Unit:** yes or no per frame of 43 ms
//! - **Source:** own trials on simulated stages
//! - **Window:** chosen minutes
//! - **No value:** at first, a source that hardly falls
//! - **Misleads when:** separation leaves another source in this one as loud as it gets itself

use super::sounding::top_power;
use crate::dsp::percentile::percentile;

/// Excess under which the own source is taken to rest, in dB.
const REST_DB: f64 = 2.5;

/// A low excess, as a share of the frames, and how far above it the source may still rest, in dB.
const LOW: f64 = 0.1;
const OVER_LOW_DB: f64 = 3.0;

/// At the beginning a source is taken to rest this far under its top, in dB; at least this share of the frames is.
const REST_UNDER_TOP_DB: f64 = 15.0;
const LEAST_REST: f64 = 0.18;

/// A frame in which separation gives a source near its top is no rest, in dB: of a hi-hat that goes on all the time, what is softer between
/// its strokes would be fitted as spill, turn by turn.
const PLAYS_UNDER_TOP_DB: f64 = 8.0;

/// Frames in which the own source is taken to rest before anything is fitted, by its power; `None` where it hardly falls.
pub fn at_first(own: &[f64]) -> Option<Vec<bool>> {
    let quiet = softer(own, REST_UNDER_TOP_DB);
    is_enough(&quiet).then_some(quiet)
}

/// Whether a source rests long enough to be told by its rests.
#[expect(clippy::cast_precision_loss, reason = "a count of frames is far below 2^52")]
pub fn is_enough(rests: &[bool]) -> bool {
    let n_rests = rests.iter().filter(|rests| **rests).count();
    n_rests as f64 >= LEAST_REST * rests.len().max(1) as f64
}

/// The softest quarter of the frames.
pub fn softest(own: &[f64]) -> Vec<bool> {
    let quarter = percentile(own, 0.25).unwrap_or(0.0);
    own.iter().map(|&power| power < quarter).collect()
}

/// Frames that are taken to rest by their excess; and by the power of the own source, where separation gives one. Where many frames hold
/// far less than is explained, the fit has taken soft notes for spill: then only what lies near the softest frames is kept.
pub fn by_excess(excess_db: &[f64], own: Option<&[f64]>) -> Vec<bool> {
    let low_db = percentile(excess_db, LOW).unwrap_or(0.0);
    let limit_db = REST_DB.min(low_db + OVER_LOW_DB);
    let mut rests: Vec<bool> = excess_db.iter().map(|&excess_db| excess_db < limit_db).collect();
    if let Some(own) = own {
        let softer = softer(own, PLAYS_UNDER_TOP_DB);
        rests.iter_mut().zip(softer).for_each(|(rests, softer)| *rests &= softer);
    }
    rests
}

/// Frames that lie so far under the top.
fn softer(own: &[f64], under_top_db: f64) -> Vec<bool> {
    let limit = top_power(own) * 10f64.powf(-under_top_db / 10.0);
    own.iter().map(|&power| power < limit).collect()
}
