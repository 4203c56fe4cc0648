//! Flat tops: a clipped sine has runs that follow from its formula, everything unclipped has none.

use std::f64::consts::PI;

use deskside::measure::clipping::{FlatTopMeter, FlatTops};

use crate::support::planted::{
    Dice, RATE_HZ, UNEVEN, amplitude, float, in_blocks, mix, samples, sine, stored,
};

fn measure(plane: Vec<f32>) -> FlatTops {
    measure_in(plane, &[65_536])
}

fn measure_in(plane: Vec<f32>, lengths: &[usize]) -> FlatTops {
    let mut meter = FlatTopMeter::new(RATE_HZ, 1);
    in_blocks(&[plane], RATE_HZ, lengths, |group| meter.push(group));
    meter.finish().remove(0)
}

fn clipped(x: &[f64], ceiling: f64) -> Vec<f64> {
    x.iter().map(|x| x.clamp(-ceiling, ceiling)).collect()
}

/// Clipped share of a sine over full scale, `1 - (2/pi) asin(1/A)`: rows of `clipped_sine.csv`.
#[test]
fn clipped_sine_lies_in_flat_tops_for_the_share_that_its_formula_gives() {
    for (overdrive_db, percent) in [(0.5, 21.394), (1.0, 29.966), (3.0, 49.924), (6.0, 66.579)] {
        // 187 Hz: no whole number of samples, so that every phase comes by; 1.87 s are 350 periods.
        let x = clipped(&sine(187.0, amplitude(overdrive_db), 350.0 / 187.0), 1.0);
        let tops = measure(stored(&x, 24));
        // Each of the 700 half-waves may gain or lose one sample of 128 a half-wave.
        let tolerance = 100.0 / 128.0;
        let found = 100.0 * tops.flat_s / (350.0 / 187.0);
        assert!(
            (found - percent).abs() < tolerance,
            "{overdrive_db} dB: {found} % not {percent} %"
        );
        assert_eq!(tops.n_runs, 700, "one flat top each half-wave");
    }
}

/// Clipped share of each half-wave from the formula: 21.39 % of 109.1 samples is 23.3 samples.
#[test]
fn half_a_decibel_of_overdrive_makes_runs_of_23_samples_at_220_hz() {
    let tops = measure(stored(&sine(220.0, amplitude(0.5), 1.0), 16));
    let run = 0.213_943 * f64::from(RATE_HZ) / (2.0 * 220.0);
    // A run of 23.3 samples holds 23 or 24 of them.
    let longest = tops.longest_ms * f64::from(RATE_HZ) / 1000.0;
    assert!((longest - run).abs() <= 1.0, "found {longest}, expected {run}");
    let level = tops.level_dbfs.value().unwrap();
    assert!(level.abs() < 1e-3, "the plateau is full scale, found {level} dBFS");
}

/// Published finding: detectors by level and slope flag an unclipped full-scale sine 879 times in 2 s.
#[test]
fn unclipped_full_scale_sine_has_no_flat_top_at_any_frequency() {
    for bits in [16, 24] {
        for step in 0..60 {
            let hz = 20.0 * 1.12f64.powi(step);
            // The largest code is 1 - 2^-(bits-1): nothing is cut.
            for peak_db in [-0.001, -0.1, -6.0, -20.0, -39.0] {
                let tops = measure(stored(&sine(hz, amplitude(peak_db), 2.0), bits));
                assert_eq!(tops.count, 0, "{hz:.1} Hz at {peak_db} dBFS, {bits} bits: {tops:?}");
            }
        }
    }
}

#[test]
fn slow_sum_of_tones_and_noise_has_no_flat_top() {
    let mut dice = Dice::new(5);
    for noise_db in [-90.0, -60.0, -40.0, -20.0] {
        let base = mix(&sine(41.2, 0.55, 20.0), &sine(123.6, 0.55 / 9.0, 20.0));
        let x = mix(&base, &dice.noise(amplitude(noise_db), base.len()));
        for bits in [16, 24] {
            let tops = measure(stored(&x, bits));
            assert_eq!(tops.count, 0, "noise at {noise_db} dBFS, {bits} bits: {tops:?}");
        }
    }
}

#[test]
fn float_peaks_above_full_scale_are_no_flat_tops() {
    let mut dice = Dice::new(7);
    let x = mix(&sine(311.0, 1.15, 5.0), &dice.noise(0.01, samples(5.0)));
    assert_eq!(measure(float(&x)).count, 0, "+1.2 dBFS without a plateau");
}

#[test]
fn clipping_before_a_gain_change_is_found_below_full_scale() {
    let mut dice = Dice::new(9);
    let drums: Vec<f64> = (0..samples(10.0))
        .map(|n| {
            let hit = n % samples(0.5);
            let decay = (-(hit as f64) / 4000.0).exp();
            1.4 * decay * (2.0 * PI * 80.0 * hit as f64 / 48_000.0).sin()
                + 0.02 * decay * dice.normal()
        })
        .collect();
    let x: Vec<f64> = clipped(&drums, 1.0).iter().map(|x| 0.35 * x).collect();
    let tops = measure(stored(&x, 24));
    assert_eq!(tops.count, 20, "one event each hit");
    let level = tops.level_dbfs.value().unwrap();
    // 20 lg 0.35 = -9.12 dB, plus what 24-bit rounding does.
    assert!((level + 9.119).abs() < 0.01, "found {level} dBFS");
    for (place, at_s) in tops.at_s.iter().enumerate() {
        // The first crest of 80 Hz comes 3 ms after the hit.
        let expected_s = 0.5 * place as f64;
        assert!((0.0..0.02).contains(&(at_s - expected_s)), "found {at_s}, hit at {expected_s}");
    }
    assert_eq!(
        measure(stored(&drums.iter().map(|x| 0.35 * x).collect::<Vec<_>>(), 24)).count,
        0,
        "the same hits without clipping"
    );
}

#[test]
fn result_does_not_depend_on_how_blocks_are_cut() {
    let plane = stored(&sine(97.0, 1.05, 3.0), 24);
    let whole = measure(plane.clone());
    assert_eq!(measure_in(plane.clone(), &UNEVEN), whole, "uneven blocks");
    assert_eq!(measure_in(plane, &[1]), whole, "single samples");
    assert!(whole.n_runs > 500, "there is something to compare: {whole:?}");
}

#[test]
fn silence_and_offset_have_no_flat_top() {
    for level in [0.0, 0.02, 0.5] {
        assert_eq!(measure(vec![level; samples(2.0)]).count, 0, "constant at {level}");
    }
}
