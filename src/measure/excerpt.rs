//! # Loudness of excerpts
//!
//! Mean loudness of a short stereo passage, and a passage brought to the loudness of another, so that a change is not liked for being
//! louder.
//!
//! - **Formula:** mean square of both sides after K weighting, without gates; the factor is the root of the quotient, less where a sample would
//!   pass full scale
//! - **Unit:** power re full scale squared
//! - **Source:** ITU-R BS.1770-5 annex 1 for the weighting
//! - **Window:** the passage
//! - **No value:** silence stays as it is
//! - **Misleads when:** a passage is shorter than a second: the filter settles in the first tenth

use crate::dsp::biquad::Filter;
use crate::dsp::weighting;

/// K-weighted power of both sides together, mean of the samples; 0 for silence.
#[expect(clippy::cast_precision_loss, reason = "a passage is short")]
pub fn loudness_power(sides: &[Vec<f32>; 2], rate_hz: u32) -> f64 {
    let power = |side: &Vec<f32>| {
        let mut filter = Filter::new(weighting::k(rate_hz).to_vec());
        let sum: f64 = side.iter().map(|&x| filter.step(f64::from(x)).powi(2)).sum();
        sum / side.len().max(1) as f64
    };
    sides.iter().map(power).sum()
}

/// Brings a passage to a K-weighted power, and no sample above full scale.
#[expect(clippy::cast_possible_truncation, reason = "a factor near 1")]
pub fn matched(sides: &mut [Vec<f32>; 2], power: f64, rate_hz: u32) {
    let own = loudness_power(sides, rate_hz);
    if own <= 0.0 || power <= 0.0 {
        return;
    }
    let top = sides.iter().flatten().fold(0.0f32, |top, x| top.max(x.abs()));
    let factor = (power / own).sqrt().min(1.0 / f64::from(top.max(f32::MIN_POSITIVE)));
    for sample in sides.iter_mut().flatten() {
        *sample *= factor as f32;
    }
}
