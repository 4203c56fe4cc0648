//! Powers of weighted sums of complex numbers whose real and imaginary parts lie apart.
//!
//! Takes weights and values, gives powers. Never keeps anything.

use super::LANES;
use super::isa::dispatch;

dispatch! {
    narrow
    /// Adds to `sums` the power of weighted sums of some values, times `share`.
    ///
    /// `weights` holds value by value the real parts and then the imaginary ones of as many weights as there are sums.
    ///
    /// # Panics
    ///
    /// If the sums are no multiple of 8, or the weights are not as many.
    pub fn add_powers[](weights: &[f32], values: &[[f32; 2]], share: f32, sums: &mut [f32]) {
        let n = sums.len();
        assert!(n.is_multiple_of(LANES) && weights.len() == 2 * n * values.len(), "weights of whole rows");
        for (first, sums) in (0..n).step_by(LANES).zip(sums.as_chunks_mut::<LANES>().0) {
            let (mut re, mut im) = ([0.0f32; LANES], [0.0f32; LANES]);
            for (weights, [x, y]) in weights.chunks_exact(2 * n).zip(values) {
                let a: [f32; LANES] = weights[first..first + LANES].try_into().expect("a row is whole");
                let b: [f32; LANES] =
                    weights[n + first..n + first + LANES].try_into().expect("a row is whole");
                for k in 0..LANES {
                    re[k] += a[k] * x - b[k] * y;
                    im[k] += a[k] * y + b[k] * x;
                }
            }
            for k in 0..LANES {
                sums[k] += share * (re[k] * re[k] + im[k] * im[k]);
            }
        }
    }
}
