//! Rows of real samples under a window, as complex values of two samples each.
//!
//! Takes pairs of samples and of weights, gives their products. Never keeps anything.

use rustfft::num_complex::Complex32;

use super::isa::dispatch;

dispatch! {
    /// Writes each sample times its weight: the first of two as a real part, the second as an imaginary part.
    ///
    /// # Panics
    ///
    /// If there is not a weight and a place for each pair.
    pub fn tapered[](samples: &[[f32; 2]], weights: &[[f32; 2]], pairs: &mut [Complex32]) {
        assert!(samples.len() == weights.len() && samples.len() == pairs.len(), "as many of each");
        for ((pair, sample), weight) in pairs.iter_mut().zip(samples).zip(weights) {
            *pair = Complex32::new(sample[0] * weight[0], sample[1] * weight[1]);
        }
    }
}
