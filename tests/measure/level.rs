//! Tests of `measure::level`.

use deskside::measure::{LevelMeter, Levels};

use crate::support::feeding::{assert_near, measure_whole};
use crate::support::signals::{noise, scaled, sine};

/// Half a code of a trace.
const TRACE_TOLERANCE_DB: f64 = 0.002_5 + 1e-6;

/// Single-precision samples in a double-precision sum.
const SUM_TOLERANCE: f64 = 1e-6;

fn measure(rate_hz: u32, planes: &[&[f32]]) -> Vec<Levels> {
    measure_whole(rate_hz, planes, LevelMeter::new, LevelMeter::push, LevelMeter::finish)
}

#[test]
fn a_sine_has_half_the_power_of_its_squared_peak() {
    for rate_hz in [44_100, 48_000, 96_000] {
        // 1 kHz: 10 ms hold ten periods, at 48 and 96 kHz a sample falls on the crest.
        let tone = sine(rate_hz, 1_000.0, 0.5, 0.0, rate_hz as usize);
        let [levels] = &measure(rate_hz, &[&tone])[..] else { panic!("one channel, one result") };
        assert_eq!((levels.power.len(), levels.peak.len()), (100, 100), "steps of 10 ms");
        for step in 0..100 {
            let expected = 10.0 * 0.125f64.log10();
            assert_near(levels.power.level_db(step), expected, TRACE_TOLERANCE_DB, "power");
        }
        assert_near(
            levels.sum_square / levels.n_samples as f64,
            0.125,
            SUM_TOLERANCE,
            "mean square",
        );
        // The farthest that a crest lies from a sample is half a sample: cos(pi x 1000 / 44100) = -0.022 dB.
        assert_near(20.0 * (levels.top / 0.5).log10(), -0.011, 0.011 + 1e-6, "peak");
    }
}

#[test]
fn the_highest_sample_and_its_time_are_found() {
    let mut plane = noise(1, 0.01, 100_003);
    plane[77_777] = -0.9;
    plane[90_000] = 0.9;
    let [levels] = &measure(48_000, &[&plane])[..] else { panic!("one channel, one result") };
    assert_near(levels.top, f64::from(0.9f32), 0.0, "size");
    assert_near(levels.top_at_s, 77_777.0 / 48_000.0, 1e-12, "the first of equals");
    assert_near(levels.peak.level_db(162), 20.0 * 0.9f64.log10(), TRACE_TOLERANCE_DB, "its step");
    assert_eq!(levels.n_samples, 100_003, "the rest counts");
}

#[test]
fn a_peak_in_the_rest_behind_the_last_step_counts() {
    let mut plane = vec![0.0; 1_000];
    plane[999] = 0.25;
    let [levels] = &measure(48_000, &[&plane])[..] else { panic!("one channel, one result") };
    assert_near(levels.top, 0.25, 0.0, "size");
    assert_near(levels.sum_square, 0.0625, SUM_TOLERANCE, "energy");
    assert_eq!(levels.power.len(), 2, "only whole steps in the trace");
}

#[test]
fn channels_of_a_group_do_not_touch_each_other() {
    let planes: Vec<Vec<f32>> = (0..8).map(|seed| noise(seed, 0.1, 20_000)).collect();
    let lent: Vec<&[f32]> = planes.iter().map(Vec::as_slice).collect();
    for (together, plane) in measure(44_100, &lent).iter().zip(&planes) {
        assert_eq!(*together, measure(44_100, &[plane])[0], "alone and together agree");
    }
}

#[test]
fn doubling_and_turning_over_change_what_they_should() {
    let plane = noise(7, 0.1, 48_000);
    let [one, double, turned] =
        &measure(48_000, &[&plane, &scaled(&plane, 2.0), &scaled(&plane, -1.0)])[..]
    else {
        panic!("three channels, three results")
    };
    assert_eq!(one, turned, "polarity does not matter");
    assert_near(double.top, 2.0 * one.top, 0.0, "peak");
    assert_near(double.sum_square, 4.0 * one.sum_square, SUM_TOLERANCE, "energy");
}

#[test]
fn silence_has_no_power() {
    let [levels] = &measure(48_000, &[&[0.0; 5_000]])[..] else { panic!("one result") };
    assert!(levels.top <= 0.0 && levels.sum_square <= 0.0, "silence is silence");
    assert!(levels.power.powers().all(|power| power <= 0.0), "in every step");
}
