//! Powers of complex sums of parts that lie apart: every copy gives the bits of the plain one, and what the `num-complex` crate gives.

use deskside::dsp::lanes::{Isa, LANES, add_powers};
use realfft::num_complex::Complex32;

use crate::support::signals::noise;

/// Sums of 19 products of about 0.1 in single precision.
const TOLERANCE: f32 = 1e-5;

#[test]
fn every_copy_adds_the_power_of_weighted_sums() {
    let (n_values, n_sums, share) = (19, 3 * LANES, 0.25);
    let values: Vec<[f32; 2]> = noise(5, 0.3, 2 * n_values).as_chunks::<2>().0.to_vec();
    let weights = noise(6, 0.3, 2 * n_values * n_sums);
    let mut first: Option<Vec<f32>> = None;
    for isa in Isa::all() {
        // What stands there already is added to.
        let mut sums = vec![1.0; n_sums];
        add_powers(isa, &weights, &values, share, &mut sums);
        for (at, sum) in sums.iter().enumerate() {
            let through: Complex32 = weights
                .chunks_exact(2 * n_sums)
                .zip(&values)
                .map(|(row, x)| {
                    Complex32::new(row[at], row[n_sums + at]) * Complex32::new(x[0], x[1])
                })
                .sum();
            let expected = 1.0 + share * through.norm_sqr();
            assert!((sum - expected).abs() < TOLERANCE, "{isa:?}: {sum}, not {expected}");
        }
        assert_eq!(&sums, first.get_or_insert(sums.clone()), "{isa:?}: other bits");
    }
}
