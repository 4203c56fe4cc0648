//! # Whether a source sounds
//!
//! Whether a channel's own source sounds, frame by frame, from what its microphone hears beyond the others' spill and from what separation
//! gives of it.
//!
//! - **Formula:** clearly: excess (see what a microphone hears beyond the others' spill) above 2 dB, and own separated level within 25 dB of
//!   its 98th percentile; and in the frame on either side of three or more such frames: within 29 dB and above 2 dB, or within 10 dB and
//!   above 0.5 dB
//! - **Unit:** yes or no per frame of 43 ms
//! - **Source:** own trials on simulated stages
//! - **Window:** the recording
//! - **No value:** as the excess
//! - **Misleads when:** separation leaves much of another source in a microphone that is hardly ever played before

use super::frames::runs;
use crate::dsp::percentile::percentile;

/// Excess above which it sounds, and how far under its 98th percentile it may be, in dB.
const SOUNDS_DB: f64 = 2.0;
const UNDER_TOP_DB: f64 = 25.0;

/// The same in a frame beside so many in which it sounds clearly. A hall holds a source longer than separation follows it: 25 dB of the
/// source in its hall are 29 of these; and what separation gives a source near its top is hardly ever spill.
const BESIDE_FRAMES: usize = 3;
const BESIDE_UNDER_TOP_DB: f64 = 29.0;
const NEAR_TOP_DB: f64 = 10.0;
const NEAR_TOP_SOUNDS_DB: f64 = 0.5;

/// Whether the own source sounds in each frame; `top_power` is the 98th percentile of its power.
pub fn sounding(excess_db: &[f64], own: &[f64], top_power: f64) -> Vec<bool> {
    let within = |power: f64, under_db: f64| power > top_power * 10f64.powf(-under_db / 10.0);
    let may_sound = |frame: usize| {
        let (excess_db, own) = (excess_db[frame], own[frame]);
        excess_db > SOUNDS_DB && within(own, BESIDE_UNDER_TOP_DB)
            || excess_db > NEAR_TOP_SOUNDS_DB && within(own, NEAR_TOP_DB)
    };
    let mut sounds = clear(excess_db, own, top_power);
    for (from, to) in runs(&sounds, true) {
        if to - from < BESIDE_FRAMES {
            continue;
        }
        if from > 0 && may_sound(from - 1) {
            sounds[from - 1] = true;
        }
        if to < sounds.len() && may_sound(to) {
            sounds[to] = true;
        }
    }
    sounds
}

/// Whether it sounds clearly: what separation is steered by, for which a soft frame too many is worse than one too few.
pub fn clear(excess_db: &[f64], own: &[f64], top_power: f64) -> Vec<bool> {
    let least = top_power * 10f64.powf(-UNDER_TOP_DB / 10.0);
    let sounds = |(excess_db, own): (&f64, &f64)| *excess_db > SOUNDS_DB && *own > least;
    excess_db.iter().zip(own).map(sounds).collect()
}

/// 98th percentile of powers.
pub fn top_power(powers: &[f64]) -> f64 {
    percentile(powers, 0.98).unwrap_or(0.0)
}
