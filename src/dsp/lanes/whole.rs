//! Complex values as whole numbers of 16 bits that share a scale.
//!
//! Takes the values of some frames, bin by bin, gives the numbers and a scale for each bin. The largest of a bin becomes the largest
//! number, so the others are off by half of what lies 90 dB below it at most.

use rustfft::num_complex::Complex32;

use super::isa::dispatch;

/// Full scale of the whole numbers.
const FULL: f32 = 32_767.0;

dispatch! {
    narrow
    /// Appends to `cells` for each bin the numbers of `F` frames, real and imaginary, and to `scales` what they are to be multiplied by.
    ///
    /// `values` holds up to `F` frames, in each `n_bins` bins; frames that are missing become 0.
    ///
    /// # Panics
    ///
    /// If there are more frames, or a frame is not whole.
    #[expect(clippy::cast_possible_truncation, reason = "the scale keeps values inside 16 bits")]
    pub fn to_whole[const F](
        values: &[Complex32],
        n_bins: usize,
        cells: &mut Vec<[i16; 2]>,
        scales: &mut Vec<f32>,
    ) {
        let n_frames = values.len() / n_bins.max(1);
        assert!(n_frames <= F && values.len() == n_frames * n_bins, "whole frames, a block at most");
        for bin in 0..n_bins {
            let (mut re, mut im) = ([0.0f32; F], [0.0f32; F]);
            for frame in 0..n_frames {
                let value = values[frame * n_bins + bin];
                (re[frame], im[frame]) = (value.re, value.im);
            }
            let mut tops = [0.0f32; F];
            for frame in 0..F {
                tops[frame] = re[frame].abs().max(im[frame].abs());
            }
            let top = tops.iter().copied().fold(0.0f32, f32::max);
            let scale = if top > 0.0 { top / FULL } else { 1.0 };
            let mut whole = [[0i16; 2]; F];
            for frame in 0..F {
                whole[frame] = [(re[frame] / scale).round() as i16, (im[frame] / scale).round() as i16];
            }
            scales.push(scale);
            cells.extend_from_slice(&whole);
        }
    }
}
