//! Tests of `demo::drift`: a recorder with a clock of its own.

use deskside::demo::drift::Drift;

use crate::support::demo::single;

const RATE_HZ: f64 = 48_000.0;

/// What a clock that is faster by some millionths makes of a sine, fed in uneven pieces.
fn drifted(hz: f64, ppm: f64, n: usize) -> Vec<f32> {
    let sine: Vec<f32> =
        (0..n).map(|n| single((std::f64::consts::TAU * hz * n as f64 / RATE_HZ).sin())).collect();
    let mut drift = Drift::new(ppm);
    let mut out = Vec::new();
    let mut rest = sine.as_slice();
    for length in [1, 700, 4096, 33].into_iter().cycle() {
        let (piece, behind) = rest.split_at(length.min(rest.len()));
        out.extend(drift.run(piece));
        rest = behind;
        if rest.is_empty() {
            break;
        }
    }
    out.extend(drift.finish());
    out
}

#[test]
fn eighteen_parts_in_a_million_add_18_samples_to_a_million() {
    let out = drifted(100.0, 18.0, 1_000_000);
    assert_eq!(out.len(), 1_000_018, "samples");
}

#[test]
fn the_signal_is_the_same_at_the_times_of_the_other_clock() {
    for hz in [1000.0, 15_000.0] {
        let out = drifted(hz, 1000.0, 96_000);
        let step = std::f64::consts::TAU * hz / RATE_HZ / 1.001;
        let inside = &out[100..out.len() - 100];
        let error = inside
            .iter()
            .enumerate()
            .map(|(n, x)| (f64::from(*x) - (step * (n + 100) as f64).sin()).powi(2));
        let error_db = 10.0 * (error.sum::<f64>() / inside.len() as f64 / 0.5).log10();
        // What the windowed sinc of 48 taps promises below 20 kHz.
        assert!(error_db < -75.0, "{hz} Hz: error at {error_db} dB");
    }
}
