//! Rows of taps: every copy gives the bits of the plain one, and the sums that the definition gives.

use deskside::dsp::lanes::{Isa, LANES, filter_every};

use super::noisy_frames;
use crate::support::signals::noise;

/// 73 products of about 0.1, each sum rounded to 24 bits.
const TOLERANCE: f64 = 1e-5;

#[test]
fn every_copy_gives_the_sums_of_the_definition() {
    let (frames, half) = (noisy_frames(1000), noise(20, 0.3, 37));
    let taps: Vec<f32> = half.iter().chain(half[..36].iter().rev()).copied().collect();
    let mut first = None;
    for isa in Isa::all() {
        let mut output = vec![[0.0; LANES]; 200];
        filter_every(isa, &frames, &half, 4, &mut output);
        for (idx, found) in output.iter().enumerate() {
            for lane in 0..LANES {
                let window = frames[4 * idx..].iter().zip(&taps);
                let products = window.map(|(frame, &tap)| f64::from(frame[lane]) * f64::from(tap));
                let expected: f64 = products.sum();
                let found = f64::from(found[lane]);
                assert!((found - expected).abs() < TOLERANCE, "{isa:?} {idx} {lane}: {found}");
            }
        }
        assert_eq!(&output, first.get_or_insert(output.clone()), "{isa:?}: other bits");
    }
}
