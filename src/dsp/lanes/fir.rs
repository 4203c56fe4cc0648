//! Inner products of a row of taps with the samples under it.
//!
//! Takes samples and taps, gives every n-th filtered sample. Eight products are summed side by side, in one order for
//! all copies.

use super::LANES;
use super::isa::dispatch;

dispatch! {
    /// Writes to `output` the products of the taps with the samples from `0`, `factor`, `2 factor` .. on.
    ///
    /// # Panics
    ///
    /// If the taps don't fill whole rows of eight or the samples end too early.
    pub fn filter_every[](samples: &[f32], taps: &[f32], factor: usize, output: &mut [f32]) {
        let (rows, rest) = taps.as_chunks::<LANES>();
        assert!(rest.is_empty(), "taps fill whole rows of {LANES}, found {}", taps.len());
        for (idx, value) in output.iter_mut().enumerate() {
            let window = &samples[idx * factor..idx * factor + taps.len()];
            let mut sums = [0.0f32; LANES];
            for (part, row) in window.as_chunks::<LANES>().0.iter().zip(rows) {
                for lane in 0..LANES {
                    sums[lane] += part[lane] * row[lane];
                }
            }
            let [a, b, c, d, e, f, g, h] = sums;
            *value = ((a + e) + (c + g)) + ((b + f) + (d + h));
        }
    }
}
