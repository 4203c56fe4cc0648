//! Combs against tables computed from the closed form, and against a response scanned step by step.

use std::f64::consts::TAU;

use deskside::dsp::air::USUAL_TEMPERATURE_C;
use deskside::relate::comb::{comb, distance_ratio, equivalent_ratio, farther_m};

use crate::support::feeding::assert_near;
use crate::support::reference::Table;
use crate::support::signals::Rng;

/// Digits of the tables: ten places.
const TOLERANCE: f64 = 1e-7;

/// A scan in steps of a few Hz misses an extreme by the square of a small angle.
const SCAN_TOLERANCE_DB: f64 = 0.05;

#[test]
fn notches_lie_where_the_table_says() {
    let table = Table::read("comb_notches_vs_path.csv");
    for row in 0..table.len() {
        let delay_s = table.number(row, "delay_ms") / 1000.0;
        let found = comb(delay_s, -3.0, 1.0).notches_hz;
        for (idx, column) in ["notch1_hz", "notch2_hz", "notch3_hz"].into_iter().enumerate() {
            let expected = table.number(row, column);
            match found.get(idx) {
                Some(&hz) => assert_near(hz / expected, 1.0, TOLERANCE, column),
                None => assert!(expected > 16_000.0, "{expected} Hz is told"),
            }
        }
        // Where one adds, the other cancels.
        let inverted = comb(delay_s, -3.0, -1.0).notches_hz;
        let peak_hz = table.number(row, "first_peak_above_dc_hz");
        assert_near(inverted[0] / peak_hz, 1.0, TOLERANCE, "inverted");
    }
}

#[test]
fn paths_and_delays_follow_the_speed_of_sound() {
    let table = Table::read("comb_notches_vs_path.csv");
    for row in 0..table.len() {
        let delay_s = table.number(row, "delay_ms") / 1000.0;
        let expected = table.number(row, "path_difference_m");
        assert_near(farther_m(delay_s, USUAL_TEMPERATURE_C), expected, 1e-8, "metres");
    }
    assert!(farther_m(-0.001, 30.0) < farther_m(-0.001, 10.0), "nearer, and more so in the heat");
}

#[test]
fn ripple_follows_the_level_as_the_table_says() {
    let table = Table::read("comb_ripple_vs_level.csv");
    for row in 0..table.len() {
        let level_db = table.number(row, "level_difference_dB");
        let expected = table.number(row, "peak_to_notch_dB").min(40.0);
        for (sign, polarity) in [(-1.0, 1.0), (1.0, 1.0), (-1.0, -1.0)] {
            let found = comb(0.002, sign * level_db, polarity).ripple_db;
            assert_near(found, expected, TOLERANCE, &format!("{level_db} dB"));
        }
    }
}

#[test]
fn three_to_one_is_a_level() {
    let table = Table::read("three_to_one.csv");
    for row in 0..table.len() {
        let ratio = table.number(row, "distance_ratio");
        let level_db = -table.number(row, "second_mic_lower_by_dB");
        assert_near(equivalent_ratio(level_db), ratio, TOLERANCE, "ratio");
        assert_near(distance_ratio(0.3, 0.3 * (ratio - 1.0)), ratio, TOLERANCE, "distances");
        let expected = table.number(row, "ripple_dB").min(40.0);
        assert_near(comb(0.001, level_db, 1.0).ripple_db, expected, TOLERANCE, "ripple");
    }
}

#[test]
fn any_comb_is_that_of_a_response_scanned_step_by_step() {
    let mut rng = Rng::new(1);
    for _ in 0..60 {
        let delay_s = 0.002 * rng.even().powi(3);
        let level_db = -1.0 - 20.0 * rng.even();
        let polarity = if rng.even() < 0.5 { -1.0 } else { 1.0 };
        let ratio = polarity * 10f64.powf(level_db / 20.0);
        let response_db = |hz: f64| {
            let (sin, cos) = (TAU * hz * delay_s).sin_cos();
            20.0 * (1.0 + ratio * cos).hypot(ratio * sin).log10()
        };
        let scan: Vec<f64> = (0..=4000).map(|step| response_db(4.0 * f64::from(step))).collect();
        let low = scan.iter().copied().fold(f64::INFINITY, f64::min);
        let high = scan.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let found = comb(delay_s, level_db, polarity);
        let what = format!("{delay_s} s, {level_db} dB, {polarity}");
        assert_near(found.ripple_db, high - low, SCAN_TOLERANCE_DB, &what);
        for hz in found.notches_hz {
            assert_near(response_db(hz), 20.0 * (1.0 - ratio.abs()).log10(), 1e-9, &what);
        }
    }
}

#[test]
fn no_delay_makes_no_comb() {
    for polarity in [1.0, -1.0] {
        let found = comb(0.0, -6.0, polarity);
        assert!(found.notches_hz.is_empty(), "{:?}", found.notches_hz);
        assert_near(found.ripple_db, 0.0, 1e-12, "ripple");
    }
    assert_near(comb(0.0, 0.0, -1.0).ripple_db, 0.0, 0.0, "nothing is left to ripple");
    assert_near(comb(0.001, 0.0, 1.0).ripple_db, 40.0, 1e-9, "equal levels cancel");
}
