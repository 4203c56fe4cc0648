//! Recorders that were started seconds apart, told by the sound they share.

use deskside::relate::far_lag::{FarLagMeter, LENGTH_S};

use crate::support::signals::noise;

const RATE_HZ: u32 = 48_000;

/// A stretch of noise from a second on, under noise of its own.
fn heard(from_s: f64, own: u64) -> Vec<f32> {
    let all = noise(1, 0.1, 110 * RATE_HZ as usize);
    let from = (from_s * f64::from(RATE_HZ)) as usize;
    let n = (LENGTH_S * f64::from(RATE_HZ)) as usize;
    let own = noise(own, 0.1, n);
    all[from..from + n].iter().zip(&own).map(|(a, b)| a + b).collect()
}

/// What is told of them, pushed in uneven blocks.
fn far_lag_s(references: &[Vec<f32>], channels: &[Vec<f32>], rate_hz: u32) -> Option<f64> {
    let mut meter = FarLagMeter::new(rate_hz, references.len(), channels.len());
    let n = references[0].len();
    for from in (0..n).step_by(65_537) {
        let to = (from + 65_537).min(n);
        let planes: Vec<&[f32]> = references.iter().chain(channels).map(|x| &x[from..to]).collect();
        meter.push(&planes);
    }
    meter.finish()
}

#[test]
fn a_start_some_seconds_apart_is_told_to_a_millisecond() {
    for late_s in [0.0, 0.5, 17.25, -19.0] {
        let found = far_lag_s(&[heard(30.0, 2)], &[heard(30.0 - late_s, 3)], RATE_HZ);
        let found_s = found.expect("they share sound");
        // A step of 12 kHz is 0.08 ms.
        assert!((found_s - late_s).abs() < 1e-4, "{late_s}: {found_s}");
    }
}

#[test]
fn what_shares_nothing_or_lies_too_far_apart_tells_no_start() {
    let n = (LENGTH_S * f64::from(RATE_HZ)) as usize;
    for seed in 20..23 {
        let found = far_lag_s(&[heard(30.0, 2)], &[noise(seed, 0.1, n)], RATE_HZ);
        assert_eq!(found, None, "seed {seed}");
    }
    assert_eq!(far_lag_s(&[heard(0.0, 2)], &[heard(30.0, 3)], RATE_HZ), None, "30 s apart");
    assert_eq!(far_lag_s(&[heard(0.0, 2)], &[vec![0.0; n]], RATE_HZ), None, "silence");
    assert_eq!(far_lag_s(&[heard(0.0, 2)], &[], RATE_HZ), None, "no channel");
}
