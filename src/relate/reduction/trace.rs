//! Gain in blocks from the products of two taps.
//!
//! Takes sums of products in blocks of 2 ms, gives gain in dB and what it leaves over. Never gives a gain for silence.

use crate::dsp::window::hann;

/// Gain in blocks, in dB, with products smoothed by a raised cosine; blocks without sound hold the line between others.
#[expect(clippy::cast_precision_loss, reason = "blocks are few")]
pub(super) fn trace_db(both: &[f64], own: &[f64], n_smooth: usize) -> Vec<f64> {
    let (both, own) = (smoothed(both, n_smooth), smoothed(own, n_smooth));
    let mut sorted = own.clone();
    sorted.sort_by(f64::total_cmp);
    let loud = sorted.get(sorted.len() * 99 / 100).copied().unwrap_or(0.0);
    let is_sure = |at: usize| own[at] > 1e-7 * loud && both[at] > 0.0;
    let mut gains_db = vec![0.0; own.len()];
    let mut last: Option<usize> = None;
    for at in (0..own.len()).filter(|&at| is_sure(at)) {
        gains_db[at] = 20.0 * (both[at] / own[at]).clamp(1e-3, 30.0).log10();
        let (from, from_db) = last.map_or((0, gains_db[at]), |last| (last + 1, gains_db[last]));
        let width = (at + 1 - from) as f64;
        for between in from..at {
            let part = (between + 1 - from) as f64 / width;
            gains_db[between] = from_db + part * (gains_db[at] - from_db);
        }
        last = Some(at);
    }
    let last = last.unwrap_or(0);
    let last_db = gains_db.get(last).copied().unwrap_or(0.0);
    gains_db.iter_mut().skip(last).for_each(|db| *db = last_db);
    gains_db
}

/// Sums under a raised cosine of an odd number of values.
pub(super) fn smoothed(values: &[f64], n_smooth: usize) -> Vec<f64> {
    let shape: Vec<f64> = (1..=n_smooth).map(|place| hann(place, n_smooth + 1)).collect();
    let half = n_smooth / 2;
    let sum = |at: usize| {
        let places = shape.iter().enumerate();
        let under = places.filter_map(|(place, shape)| {
            Some(shape * values.get((at + place).checked_sub(half)?)?)
        });
        under.sum()
    };
    (0..values.len()).map(sum).collect()
}

/// Energy of the processed tap that gain and filter leave over, in dB.
pub(super) fn residual_db(both: &[f64], own: &[f64], other: &[f64]) -> f64 {
    let rest: f64 = other
        .iter()
        .zip(both.iter().zip(own))
        .map(|(other, (both, own))| (other - both * both / (own + 1e-20)).max(0.0))
        .sum();
    10.0 * (rest / other.iter().sum::<f64>().max(1e-30) + 1e-12).log10()
}
