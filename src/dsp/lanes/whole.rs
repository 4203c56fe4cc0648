//! Complex values as whole numbers of 16 bits that share a scale.
//!
//! Takes the values of some frames, bin by bin, gives the numbers and a scale for each bin. The largest of a bin becomes the largest
//! number, so the others are off by half of what lies 90 dB below it at most.

use rustfft::num_complex::Complex32;

use super::isa::dispatch;

/// Full scale of the whole numbers.
const FULL: f32 = 32_767.0;

/// Bins that are looked at side by side, and their real and imaginary parts.
const SIDE: usize = 4;
const PARTS: usize = 2 * SIDE;

/// Added to a small whole number, it leaves that in the lowest bits of the sum: 1.5 times 2^23.
const TO_LOW_BITS: f32 = 12_582_912.0;

/// The numbers of bins side by side, and their scales. `rows` has the parts of each frame.
#[inline(always)]
#[expect(clippy::cast_possible_truncation, reason = "the lowest bits are wanted")]
fn hold_four<const F: usize>(
    rows: &[[f32; PARTS]; F],
    cells: &mut [[[i16; 2]; F]; SIDE],
    scales: &mut [f32; SIDE],
) {
    let mut tops = [0.0f32; PARTS];
    for row in rows {
        for part in 0..PARTS {
            let size = row[part].abs();
            tops[part] = if size > tops[part] { size } else { tops[part] };
        }
    }
    let mut scale_of_part = [0.0; PARTS];
    for bin in 0..SIDE {
        let top = tops[2 * bin].max(tops[2 * bin + 1]);
        scales[bin] = if top > 0.0 { top / FULL } else { 1.0 };
        (scale_of_part[2 * bin], scale_of_part[2 * bin + 1]) = (scales[bin], scales[bin]);
    }
    for (frame, row) in rows.iter().enumerate() {
        let mut whole = [0i16; PARTS];
        for part in 0..PARTS {
            // A cast of a float asks first whether it fits.
            whole[part] =
                ((row[part] / scale_of_part[part]).round() + TO_LOW_BITS).to_bits() as i16;
        }
        for bin in 0..SIDE {
            cells[bin][frame] = [whole[2 * bin], whole[2 * bin + 1]];
        }
    }
}

dispatch! {
    narrow
    /// Appends to `cells` for each bin the numbers of `F` frames, real and imaginary, and to `scales` what they are to be multiplied by.
    ///
    /// `values` holds up to `F` frames, in each `n_bins` bins; frames that are missing become 0.
    ///
    /// # Panics
    ///
    /// If there are more frames, or a frame is not whole.
    pub fn to_whole[const F](
        values: &[Complex32],
        n_bins: usize,
        cells: &mut Vec<[i16; 2]>,
        scales: &mut Vec<f32>,
    ) {
        let n_frames = values.len() / n_bins.max(1);
        assert!(n_frames <= F && values.len() == n_frames * n_bins, "whole frames, a block at most");
        let mut rows = [[0.0; PARTS]; F];
        let (mut whole, mut some_scales) = ([[[0; 2]; F]; SIDE], [1.0; SIDE]);
        let n_full = n_bins - n_bins % SIDE;
        for bin in (0..n_full).step_by(SIDE) {
            for (row, frame) in rows.iter_mut().zip(values.chunks_exact(n_bins)) {
                let [a, b, c, d]: &[Complex32; SIDE] = frame[bin..].first_chunk().expect("bins are left");
                *row = [a.re, a.im, b.re, b.im, c.re, c.im, d.re, d.im];
            }
            hold_four(&rows, &mut whole, &mut some_scales);
            scales.extend_from_slice(&some_scales);
            cells.extend_from_slice(whole.as_flattened());
        }
        let n_left = n_bins - n_full;
        if n_left > 0 {
            for (row, frame) in rows.iter_mut().zip(values.chunks_exact(n_bins)) {
                for (part, value) in row.as_chunks_mut::<2>().0.iter_mut().zip(&frame[n_full..]) {
                    *part = [value.re, value.im];
                }
            }
            hold_four(&rows, &mut whole, &mut some_scales);
            scales.extend_from_slice(&some_scales[..n_left]);
            cells.extend_from_slice(whole[..n_left].as_flattened());
        }
    }
}
