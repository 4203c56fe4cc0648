//! Lags of sound that was made late by known times.

use deskside::relate::shared_lag::{SharedLagMeter, Sighting};

use crate::support::signals::noise;

const RATE_HZ: u32 = 48_000;
const N: usize = 3 * 48_000;

/// Lags of one reference against one channel, pushed in uneven blocks.
fn lags(reference: &[f32], channel: &[f32]) -> Vec<Sighting> {
    let mut meter = SharedLagMeter::new(RATE_HZ, 1, 1);
    let n = reference.len().min(channel.len());
    let mut from = 0;
    for step in [1, 40_001, 7, 65_536].into_iter().cycle() {
        let to = (from + step).min(n);
        meter.push(&[&reference[from..to], &channel[from..to]]);
        from = to;
        if from == n {
            break;
        }
    }
    meter.end(100.0)
}

fn mixed(parts: &[(&[f32], usize, f32)]) -> Vec<f32> {
    let sample = |at: usize| {
        parts.iter().map(|(x, late, gain)| if at < *late { 0.0 } else { gain * x[at - late] }).sum()
    };
    (0..N).map(sample).collect()
}

#[test]
fn sound_is_found_as_late_as_it_was_made_under_noise_of_its_own_level() {
    for late in [0, 333, 5_000] {
        let (sound, own) = (noise(1, 0.1, N), noise(2, 0.1, N));
        let found = lags(&sound, &mixed(&[(&sound, late, 1.0), (&own, 0, 1.0)]));
        let expected_s = late as f64 / f64::from(RATE_HZ);
        // A tenth of a sample: the band reaches to 8 kHz.
        assert!((found[0].lag_s - expected_s).abs() < 2e-6, "{late}: {found:?}");
        assert!((found[0].at_s - 101.5).abs() < 1e-6, "{found:?}");
        assert_eq!(found.len(), 1, "{found:?}");
    }
}

#[test]
fn both_ways_of_a_sound_are_found_and_an_inverted_one_too() {
    let sound = noise(3, 0.1, N);
    let found = lags(&sound, &mixed(&[(&sound, 480, -1.0), (&sound, 1_440, 0.7)]));
    let mut late_ms: Vec<f64> = found.iter().take(2).map(|one| 1e3 * one.lag_s).collect();
    late_ms.sort_by(f64::total_cmp);
    assert!((late_ms[0] - 10.0).abs() < 0.01 && (late_ms[1] - 30.0).abs() < 0.01, "{found:?}");
}

#[test]
fn sounds_that_share_nothing_have_no_lag_nor_has_silence() {
    for seed in 10..20 {
        let found = lags(&noise(seed, 0.1, N), &noise(seed + 50, 0.1, N));
        assert!(found.is_empty(), "{seed}: {found:?}");
    }
    assert!(lags(&noise(1, 0.1, N), &vec![0.0; N]).is_empty(), "silence");
}
