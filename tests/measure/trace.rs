//! A trace against the decibels and powers that went in.

use deskside::measure::Trace;
use deskside::measure::trace::FLOOR_DB;

/// Half a code: levels are held in steps of 0.005 dB.
const HALF_A_CODE_DB: f64 = 0.0025 + 1e-9;

/// The same as a share of power: 10^(0.0025/10) - 1.
const HALF_A_CODE_SHARE: f64 = 5.76e-4;

/// A trace of powers, 10 ms a step.
fn trace(powers: &[f64]) -> Trace {
    let mut trace = Trace::new(0.01);
    for power in powers {
        trace.push_power(*power);
    }
    trace
}

#[test]
fn a_level_comes_back_within_half_a_code() {
    for level_db in [-180.0, -96.3, -23.0, -3.0103, 0.0, 12.5, 60.0] {
        let trace = trace(&[10f64.powf(level_db / 10.0)]);
        let error_db = (trace.level_db(0) - level_db).abs();
        assert!(error_db <= HALF_A_CODE_DB, "{level_db} dB came back {error_db} dB off");
    }
}

#[test]
fn silence_has_no_power_and_reads_the_floor() {
    let trace = trace(&[0.0, 1e-40]);
    assert!(
        trace.powers().all(|power| power == 0.0),
        "found {:?}",
        trace.powers().collect::<Vec<_>>()
    );
    assert!((trace.level_db(0) - FLOOR_DB).abs() < 1e-9);
}

#[test]
fn mean_power_is_the_arithmetic_mean_of_powers() {
    // 10 lg of the mean of 1 and 0.01 is -2.967 dB: closed form.
    let trace = trace(&[1.0, 0.01, 0.5]);
    let mean = trace.mean_power(0, 2);
    assert!((mean / 0.505 - 1.0).abs() <= HALF_A_CODE_SHARE, "found {mean}");
    assert!(trace.mean_power(2, 2) == 0.0 && trace.mean_power(5, 9) == 0.0, "no step, no power");
    assert!((trace.mean_power(2, 99) / 0.5 - 1.0).abs() <= HALF_A_CODE_SHARE, "steps that exist");
}

#[test]
fn joined_steps_carry_their_mean_and_a_rest_is_dropped() {
    let joined = trace(&[1.0, 0.5, 0.1, 0.3, 0.9]).coarser(2);
    assert_eq!(joined.len(), 2);
    assert!((joined.step_s() - 0.02).abs() < 1e-12);
    // Two roundings: one of each step, one of the mean.
    for (found, expected) in joined.powers().zip([0.75, 0.2]) {
        assert!(
            (found / expected - 1.0).abs() <= 2.0 * HALF_A_CODE_SHARE,
            "{found} for {expected}"
        );
    }
}

#[test]
fn an_hour_at_10_ms_takes_two_bytes_a_step() {
    assert_eq!(trace(&[0.5; 1000]).n_bytes(), 2000);
    assert!(Trace::new(0.01).is_empty());
}

#[test]
#[should_panic(expected = "a step takes time")]
fn a_step_of_no_time_is_refused() {
    let _ = Trace::new(0.0);
}

#[test]
#[should_panic(expected = "groups of at least one")]
fn steps_are_not_joined_in_groups_of_none() {
    let _ = trace(&[1.0]).coarser(0);
}
