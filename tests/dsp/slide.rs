//! Samples between samples: sines, whose values between samples are known, and the pass-through of whole places.

use deskside::dsp::slide::{REACH, Slide};

use crate::support::feeding::assert_near;

/// The promised error, as a share of full scale: -80 dB.
const ERROR: f64 = 1e-4;

fn sine(turns: f64, at: f64) -> f64 {
    (std::f64::consts::TAU * turns * at).sin()
}

#[test]
fn sines_are_met_between_their_samples_for_a_clock_that_is_fast_or_slow() {
    for (turns, step) in [(0.01, 1.0 + 40e-6), (0.2, 1.0 - 200e-6), (0.3, 1.0 + 15e-6)] {
        let samples: Vec<f32> = (0..20_000).map(|n| sine(turns, f64::from(n)) as f32).collect();
        let mut slide = Slide::new(0.3, step);
        let mut found = Vec::new();
        // Blocks of any length.
        for block in samples.chunks(777) {
            slide.push(block, &mut found);
        }
        assert!(found.len() > 19_900, "{} values", found.len());
        for (k, &y) in found.iter().enumerate() {
            let at = REACH as f64 + 0.3 + k as f64 * step;
            assert_near(f64::from(y), sine(turns, at), ERROR, "between samples");
        }
    }
}

#[test]
fn whole_places_pass_as_they_are() {
    let samples: Vec<f32> = (0..500).map(|n| n as f32).collect();
    let mut slide = Slide::new(0.0, 1.0);
    let mut found = Vec::new();
    slide.push(&samples, &mut found);
    assert_eq!(found[..], samples[REACH..samples.len() - REACH], "the same samples");
}
