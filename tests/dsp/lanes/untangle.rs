//! Spectra of real rows: every copy gives the bits of the plain one, and the powers that the `realfft` crate gives.

use deskside::dsp::lanes::{Isa, Turns, power_of_pairs};
use realfft::RealFftPlanner;
use realfft::num_complex::Complex32;
use rustfft::FftPlanner;

use crate::support::signals::noise;

/// Rounding of single precision, re the largest power.
const TOLERANCE: f32 = 1e-5;

#[test]
fn every_copy_gives_the_powers_of_a_real_transform() {
    for n in [8, 12, 256, 3072] {
        let samples = noise(3, 0.3, n);
        let mut bins = vec![Complex32::default(); n / 2 + 1];
        let done =
            RealFftPlanner::new().plan_fft_forward(n).process(&mut samples.clone(), &mut bins);
        assert!(done.is_ok(), "the buffers have the plan's lengths");
        let expected: Vec<f32> = bins.iter().map(Complex32::norm_sqr).collect();
        let most = expected.iter().copied().fold(0.0, f32::max);

        let mut pairs: Vec<Complex32> =
            samples.as_chunks::<2>().0.iter().map(|&[re, im]| Complex32::new(re, im)).collect();
        FftPlanner::new().plan_fft_forward(n / 2).process(&mut pairs);
        let mut first = None;
        for isa in Isa::all() {
            let mut power = vec![9.0; n / 2 + 1];
            power_of_pairs(isa, &pairs, &Turns::new(n), &mut power);
            for (bin, (found, expected)) in power.iter().zip(&expected).enumerate() {
                let off = (found - expected).abs();
                assert!(off < TOLERANCE * most, "bin {bin} of {n}: {found}, not {expected}");
            }
            assert_eq!(&power, first.get_or_insert(power.clone()), "{isa:?}: other bits");
        }
    }
}
