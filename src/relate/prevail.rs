//! Cells in which one source prevails in two microphones: where its arrival can be told from the others'.
//!
//! Takes separated powers of chosen minutes and how a source passes into a microphone, gives a bit for each third-octave and
//! frame. Never chooses a cell in which the source is far under its own top.

use super::grid::N_BANDS;
use crate::dsp::percentile::percentile;

/// Least share of the source in its own microphone, and in the other.
const SHARES: [f32; 2] = [0.8, 0.3];

/// How far under the 95th percentile of its band a source may be, in dB.
const UNDER_TOP_DB: f64 = 20.0;

/// A source and two microphones, by band and frame.
pub struct Pair<'a> {
    /// Power of the source as its own microphone hears it: band, then frame.
    pub source: &'a [&'a [f32]],
    /// Power of its own microphone.
    pub home: &'a [Vec<f32>],
    /// Power of the other.
    pub mic: &'a [Vec<f32>],
    /// Power gain of the source on its way to the other, by band.
    pub gains: &'a [f32],
    /// Frames in which the source sounds.
    pub sounds: &'a [bool],
    /// Frames in which the other microphone's own source sounds, if it has one.
    pub disturbed: Option<&'a [bool]>,
}

/// The bands of each frame in which the source prevails, as bits, the lowest band first.
pub fn cells(pair: &Pair<'_>) -> Vec<u32> {
    let n_frames = pair.source.first().map_or(0, |band| band.len());
    let mut cells = vec![0u32; n_frames];
    for band in 0..N_BANDS.min(pair.source.len()) {
        let source = pair.source[band];
        let least = least_power(source);
        for (frame, cell) in cells.iter_mut().enumerate() {
            let power = source[frame];
            let is_chosen = pair.sounds[frame]
                && power > least
                && power > SHARES[0] * pair.home[band][frame]
                && power * pair.gains[band] > SHARES[1] * pair.mic[band][frame];
            *cell |= u32::from(is_chosen) << band;
        }
    }
    if let Some(disturbed) = pair.disturbed {
        for (frame, cell) in cells.iter_mut().enumerate() {
            let near = frame.saturating_sub(NEAR)..(frame + NEAR + 1).min(disturbed.len());
            if near.into_iter().any(|near| disturbed[near]) {
                *cell = 0;
            }
        }
    }
    cells
}

/// Frames before and after one that share its sound where arrivals are measured: their frames are twice as long.
const NEAR: usize = 2;

#[expect(clippy::cast_possible_truncation, reason = "powers are held as f32")]
fn least_power(powers: &[f32]) -> f32 {
    let powers: Vec<f64> = powers.iter().map(|&power| f64::from(power)).collect();
    let top = percentile(&powers, 0.95).unwrap_or(0.0);
    (top * 10f64.powf(-UNDER_TOP_DB / 10.0)) as f32
}
