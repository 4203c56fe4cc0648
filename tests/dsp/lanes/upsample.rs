//! Tests of the interpolation kernels in `dsp::lanes`.

use deskside::dsp::lanes::{Isa, largest_curvature, largest_size, tap_sum, upsample};

use crate::support::feeding::assert_near;
use crate::support::signals::noise;

/// Rounding of 24 to 48 products in single precision.
const TOLERANCE: f64 = 3e-6;

#[test]
fn sizes_and_curvatures_equal_the_plain_twin() {
    for n_samples in [0, 1, 2, 3, 17, 18, 304] {
        let samples = noise(3, 1.0, n_samples);
        let size = samples.iter().fold(0.0f32, |top, sample| top.max(sample.abs()));
        let bends = samples.windows(3).map(|three| (three[0] - 2.0 * three[1] + three[2]).abs());
        let bend = bends.fold(0.0, f32::max);
        for isa in Isa::all() {
            assert!(largest_size(isa, &samples).to_bits() == size.to_bits(), "{isa:?}");
            assert!(largest_curvature(isa, &samples).to_bits() == bend.to_bits(), "{isa:?}");
        }
    }
}

#[test]
fn convolutions_equal_the_plain_twin() {
    let samples = noise(4, 0.5, 400);
    let taps: [f32; 24] = noise(5, 0.3, 24).try_into().expect("24 taps");
    let twin = |from: usize| -> f64 {
        let products = taps.iter().zip(&samples[from..]);
        products.map(|(&tap, &sample)| f64::from(tap) * f64::from(sample)).sum()
    };
    let mut first = None;
    for isa in Isa::all() {
        let mut out = vec![0.0; 300];
        upsample(isa, &samples, &taps, &mut out);
        for (at, &found) in out.iter().enumerate() {
            assert_near(found.into(), twin(at), TOLERANCE, "interpolated sample");
        }
        let window = samples[30..].first_chunk().expect("24 samples");
        assert_near(tap_sum(isa, window, &taps).into(), twin(30), TOLERANCE, "sum of products");
        assert_eq!(&out, first.get_or_insert(out.clone()), "{isa:?}: other bits");
    }
}
