//! Two channels on one source against delays, signs and noise that were put in.

use deskside::relate::same_source::{Kin, SameSourceMeter};
use deskside::unit::Unmeasured;

use crate::support::noise::Noise;

const RATE_HZ: u32 = 48_000;
const BODY_HZ: [f64; 2] = [60.0, 500.0];

/// A whole number of samples with a tenth of the noise of the source: published runs with more noise stay within 0.02 sample
/// for a broad-band source (generalised correlation, Knapp and Carter 1976).
const TOLERANCE_SAMPLES: f64 = 0.05;

fn kin(first: &[f32], second: &[f32], cuts: usize) -> Result<Kin, Unmeasured> {
    let mut meter = SameSourceMeter::new(RATE_HZ, BODY_HZ);
    for (first, second) in first.chunks(cuts).zip(second.chunks(cuts)) {
        meter.push(first, second);
    }
    meter.finish()
}

/// A source in two channels: the second `lag` samples later, times `gain`, with noise of its own.
fn two(lag: usize, gain: f32) -> (Vec<f32>, Vec<f32>) {
    let n_samples = 8 * RATE_HZ as usize;
    let source = Noise::new(1).samples(n_samples + lag);
    let (mut of_first, mut of_second) = (Noise::new(2), Noise::new(3));
    let first = source[lag..].iter().map(|s| s + 0.1 * of_first.next()).collect();
    let second = source[..n_samples].iter().map(|s| gain * s + 0.1 * of_second.next()).collect();
    (first, second)
}

#[test]
fn a_later_arrival_is_positive_and_found_to_a_fraction_of_a_sample() {
    for lag in [0, 7, 40, 300] {
        let (first, second) = two(lag, 0.7);
        let found = kin(&first, &second, 4096).unwrap();
        let arrived = found.arrival.unwrap();
        let samples = arrived.delay_s * f64::from(RATE_HZ);
        assert!(
            (samples - lag as f64).abs() < TOLERANCE_SAMPLES,
            "expected {lag} samples, found {samples}"
        );
        assert!(arrived.polarity > 0.0, "polarity at {lag} samples: {}", arrived.polarity);
    }
}

#[test]
fn an_inverted_channel_shows_in_sign_and_correlation() {
    let (first, second) = two(10, -1.0);
    let found = kin(&first, &second, 4096).unwrap();
    let polarity = found.arrival.unwrap().polarity;
    assert!(polarity < 0.0, "polarity {polarity}");
    // Source power 1, noise 0.01 in each: r = -1/1.01.
    assert!((found.body_correlation + 0.99).abs() < 0.02, "found {}", found.body_correlation);
}

#[test]
fn two_sources_that_are_each_first_in_their_own_channel_have_no_single_arrival() {
    let n_samples = 8 * RATE_HZ as usize;
    let (a, b) = (Noise::new(1).samples(n_samples + 20), Noise::new(2).samples(n_samples + 20));
    let heard = |near: &[f32], far: &[f32], gain: f32| -> Vec<f32> {
        near[20..].iter().zip(far).map(|(near, far)| near + gain * far).collect()
    };
    let alike = kin(&heard(&a, &b, 0.7), &heard(&b, &a, 0.7), 4096).unwrap();
    assert_eq!(alike.arrival, Err(Unmeasured::Because("no single arrival stands out")));
    // The second's own source hardly reaches the first: one arrives, 20 samples later.
    let leads = kin(&heard(&a, &b, 0.1), &heard(&b, &a, 0.7), 4096).unwrap().arrival.unwrap();
    let samples = leads.delay_s * f64::from(RATE_HZ);
    assert!((samples - 20.0).abs() < 0.5, "found {samples} samples");
}

#[test]
fn coherence_follows_the_noise() {
    // gamma^2 = SNR/(1+SNR) for noise in one channel (Bendat and Piersol, from memory); in both: the product.
    let (first, second) = two(0, 1.0);
    let found = kin(&first, &second, 4096).unwrap().coherence;
    let expected = (1.0f64 / 1.01).powi(2);
    assert!((found - expected).abs() < 0.02, "expected {expected}, found {found}");
}

#[test]
fn strangers_silence_and_short_takes_have_no_value() {
    let n_samples = 8 * RATE_HZ as usize;
    let (a, b) = (Noise::new(1).samples(n_samples), Noise::new(2).samples(n_samples));
    assert_eq!(kin(&a, &b, 4096), Err(Unmeasured::Because("the two channels share too little")));
    let silent = vec![0.0; n_samples];
    assert_eq!(kin(&a, &silent, 4096), Err(Unmeasured::Silent));
    assert!(matches!(kin(&a[..9000], &b[..9000], 512), Err(Unmeasured::TooShort { .. })));
}

#[test]
fn the_cut_of_blocks_changes_nothing() {
    let (first, second) = two(7, 0.5);
    assert_eq!(kin(&first, &second, first.len()), kin(&first, &second, 1013), "uneven blocks");
}
