//! Rows under a window: every copy gives the product of each sample and its weight.

use deskside::dsp::lanes::{Isa, tapered};
use realfft::num_complex::Complex32;

use crate::support::signals::noise;

#[test]
fn every_copy_multiplies_each_sample_by_its_weight() {
    let (samples, weights) = (noise(1, 0.5, 38), noise(2, 0.5, 38));
    for isa in Isa::all() {
        let mut pairs = [Complex32::default(); 19];
        tapered(isa, samples.as_chunks().0, weights.as_chunks().0, &mut pairs);
        for (at, pair) in pairs.iter().enumerate() {
            for (part, of) in [(pair.re, 2 * at), (pair.im, 2 * at + 1)] {
                let expected = samples[of] * weights[of];
                assert_eq!(part.to_bits(), expected.to_bits(), "{isa:?}, sample {of}");
            }
        }
    }
}
