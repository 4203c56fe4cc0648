//! Resampling against closed forms: a sampled sine, an impulse, the length.

use std::f64::consts::TAU;

use deskside::audio::Resampler;

/// A sine at half scale.
#[expect(clippy::cast_possible_truncation, reason = "samples are f32")]
fn sine_at(frequency_hz: f64, rate_hz: u32, n_frames: usize) -> Vec<f32> {
    let step = TAU * frequency_hz / f64::from(rate_hz);
    (0..n_frames).map(|n| (0.5 * (step * n as f64).sin()) as f32).collect()
}

/// 997 Hz has no common measure with the rates (AES17 names it for that reason).
fn sine(rate_hz: u32, n_frames: usize) -> Vec<f32> {
    sine_at(997.0, rate_hz, n_frames)
}

fn resample(input: &[f32], from_hz: u32, to_hz: u32, block_lengths: &[usize]) -> Vec<f32> {
    let mut resampler = Resampler::new(from_hz, to_hz, 1).expect("the rates are common");
    let mut output = vec![Vec::new()];
    let (mut rest, mut lengths) = (input, block_lengths.iter().cycle());
    while !rest.is_empty() {
        let n_now = (*lengths.next().expect("a length")).min(rest.len());
        resampler.push(&[&rest[..n_now]], &mut output);
        rest = &rest[n_now..];
    }
    resampler.finish(&mut output);
    output.remove(0)
}

/// Largest difference between the output and what it should be, re the sine's peak, away from the ends, where the
/// filter still sees the silence around the recording.
fn worst_db(output: &[f32], truth: &[f32]) -> f64 {
    let inner = output.len() / 10..output.len() - output.len() / 10;
    let pairs = output[inner.clone()].iter().zip(&truth[inner]);
    let worst = pairs.map(|(a, b)| f64::from((a - b).abs())).fold(0.0, f64::max);
    20.0 * (worst / 0.5).log10()
}

/// How far a resampled sine is from the same sine sampled at the new rate.
fn error_db(frequency_hz: f64, from_hz: u32, to_hz: u32) -> f64 {
    let input = sine_at(frequency_hz, from_hz, from_hz as usize);
    let output = resample(&input, from_hz, to_hz, &[4_096]);
    worst_db(&output, &sine_at(frequency_hz, to_hz, output.len()))
}

/// A sine whose level is off by 0.01 dB differs from the true one by 20 log10(10^(0.01/20) - 1) = -58.8 dB.
const OFF_BY_0_01_DB: f64 = -58.8;

fn check_sine(frequency_hz: f64, rates: &[(u32, u32)]) {
    for &(from_hz, to_hz) in rates {
        let error_db = error_db(frequency_hz, from_hz, to_hz);
        assert!(error_db < OFF_BY_0_01_DB, "{from_hz} to {to_hz} Hz is off by {error_db:.1} dB");
    }
}

#[test]
fn a_sine_keeps_its_level_within_0_01_db_and_its_phase() {
    let common = [(44_100, 48_000), (48_000, 44_100), (96_000, 48_000), (88_200, 48_000)];
    check_sine(997.0, &common);
    check_sine(997.0, &[(32_000, 48_000), (48_000, 96_000), (192_000, 44_100), (22_050, 48_000)]);
    check_sine(20_000.0, &common);
    check_sine(20_000.0, &[(48_000, 96_000), (192_000, 44_100)]);
}

#[test]
fn rates_a_thousandth_apart_and_odd_ones_are_converted() {
    check_sine(997.0, &[(47_952, 48_000), (44_056, 48_000), (48_048, 48_000), (44_101, 48_000)]);
}

/// The stop band that a reader of 16 bits can't tell from silence: 98 dB, the theoretical signal-to-noise ratio of
/// 16 bits (6.02 dB a bit and 1.76 dB).
const SILENT_DB: f64 = -98.0;

#[test]
fn what_the_new_rate_can_t_hold_is_taken_away() {
    for (frequency_hz, from_hz, to_hz) in [(30_000.0, 96_000, 48_000), (23_000.0, 48_000, 44_100)] {
        let input = sine_at(frequency_hz, from_hz, from_hz as usize);
        let output = resample(&input, from_hz, to_hz, &[4_096]);
        let left_db = worst_db(&output, &vec![0.0; output.len()]);
        assert!(left_db < SILENT_DB, "{frequency_hz} Hz leaves {left_db:.1} dB at {to_hz} Hz");
    }
}

#[test]
fn an_impulse_stays_at_its_moment() {
    // Every 147th sample at 44.1 kHz falls on a sample at 48 kHz: 147 / 44100 = 160 / 48000.
    for k in [0, 1, 7, 50, 99] {
        let mut input = vec![0.0; 147 * 100];
        input[147 * k] = 1.0;
        let output = resample(&input, 44_100, 48_000, &[1_000]);
        let at = (0..output.len()).max_by(|&a, &b| output[a].total_cmp(&output[b]));
        assert_eq!(at, Some(160 * k), "impulse number {k}");
        let (before, after) = (160 * k)
            .checked_sub(1)
            .map_or((0.0, 0.0), |before| (output[before], output[160 * k + 1]));
        assert!((before - after).abs() < 1e-4, "the filter is even: {before} and {after}");
    }
}

#[test]
fn the_length_is_rounded_up() {
    for (from_hz, to_hz) in [(44_100, 48_000), (48_000, 44_100), (96_000, 48_000), (48_000, 48_000)]
    {
        for n_frames in [0_u64, 1, 2, 146, 147, 148, 1_000, 1_176, 44_100, 50_001] {
            let input = vec![0.1; usize::try_from(n_frames).expect("short")];
            let output = resample(&input, from_hz, to_hz, &[333]);
            let expected = (n_frames * u64::from(to_hz)).div_ceil(u64::from(from_hz));
            assert_eq!(output.len() as u64, expected, "{n_frames} frames at {from_hz} Hz");
        }
    }
}

#[test]
fn blocks_may_be_cut_anywhere() {
    let input = sine(44_100, 20_000);
    let whole = resample(&input, 44_100, 48_000, &[20_000]);
    for lengths in [&[1][..], &[1_176], &[1, 4_999, 3], &[147, 1_000]] {
        let pieces = resample(&input, 44_100, 48_000, lengths);
        let same = whole.iter().zip(&pieces).all(|(a, b)| a.to_bits() == b.to_bits());
        assert!(same && whole.len() == pieces.len(), "blocks of {lengths:?}");
    }
}

#[test]
fn channels_do_not_touch_each_other() {
    let (loud, silent) = (sine(44_100, 10_000), vec![0.0; 10_000]);
    let mut resampler = Resampler::new(44_100, 48_000, 3).expect("the rates are common");
    let mut output = vec![Vec::new(); 3];
    resampler.push(&[&silent, &loud, &silent], &mut output);
    resampler.finish(&mut output);
    assert!(output[0].iter().chain(&output[2]).all(|&sample| sample.abs() <= 0.0), "silence stays");
    let alone = resample(&loud, 44_100, 48_000, &[10_000]);
    assert!(output[1].iter().zip(&alone).all(|(a, b)| a.to_bits() == b.to_bits()), "as alone");
}

#[test]
fn equal_rates_pass_unchanged() {
    let input = sine(48_000, 5_000);
    let output = resample(&input, 48_000, 48_000, &[777]);
    assert!(input.iter().zip(&output).all(|(a, b)| a.to_bits() == b.to_bits()), "bit by bit");
}

#[test]
fn rates_without_common_measure_are_refused_with_the_reason() {
    let refused = |from_hz, to_hz| Resampler::new(from_hz, to_hz, 1).err().unwrap_or_default();
    assert!(refused(192_001, 48_000).contains("no common measure"), "{}", refused(192_001, 48_000));
    assert!(refused(0, 48_000).contains("0 Hz"), "{}", refused(0, 48_000));
}
