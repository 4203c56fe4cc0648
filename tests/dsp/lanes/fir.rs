//! Rows of taps: every copy gives the bits of the plain one, and the sums that the definition gives.

use deskside::dsp::lanes::{Isa, filter_every};

use crate::support::signals::noise;

#[test]
fn every_copy_gives_the_sums_of_the_definition() {
    let (samples, taps) = (noise(1, 0.3, 1000), noise(2, 0.3, 72));
    let mut first: Option<Vec<u32>> = None;
    for isa in Isa::all() {
        let mut output = vec![0.0; 200];
        filter_every(isa, &samples, &taps, 4, &mut output);
        for (idx, &found) in output.iter().enumerate() {
            let window = samples[4 * idx..].iter().zip(&taps);
            let expected: f64 = window.map(|(x, tap)| f64::from(*x) * f64::from(*tap)).sum();
            // 72 products of about 0.1, each sum rounded to 24 bits.
            assert!((f64::from(found) - expected).abs() < 1e-5, "{isa:?} {idx}: {found}");
        }
        let bits: Vec<u32> = output.iter().map(|value| value.to_bits()).collect();
        assert_eq!(&bits, first.get_or_insert_with(|| bits.clone()), "{isa:?}: other bits");
    }
}
