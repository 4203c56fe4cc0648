//! Tests of `measure::Trace`.

use deskside::measure::Trace;
use deskside::measure::trace::FLOOR_DB;

use crate::support::feeding::assert_near;
use crate::support::planted::Dice;

/// Half a code of 0.005 dB.
const TOLERANCE_DB: f64 = 0.002_5 + 1e-9;

#[test]
fn levels_come_back_within_half_a_code() {
    let mut trace = Trace::new(0.01);
    let levels: Vec<f64> = (0..1_500).map(|n| -110.0 + 0.077 * f64::from(n)).collect();
    levels.iter().for_each(|level_db| trace.push_power(10f64.powf(level_db / 10.0)));
    for (step, &level_db) in levels.iter().enumerate() {
        assert_near(trace.level_db(step), level_db, TOLERANCE_DB, "level");
        assert_near(10.0 * trace.power(step).log10(), level_db, TOLERANCE_DB, "power");
    }
    assert!(trace.n_bytes() < 3_000, "less than two bytes a step: {}", trace.n_bytes());
}

#[test]
fn every_code_comes_back_whatever_lies_beside_it() {
    // Silence, steps of half a code to all of them at once, and groups without any difference.
    let level_db = |n: u32| match n / 700 {
        0 => -220.0 + 0.005 * f64::from(n % 7),
        1 => f64::from(n.wrapping_mul(2_654_435_761) >> 16) * 0.005 - 220.0,
        2 => -60.0,
        3 => {
            if n.is_multiple_of(2) {
                -219.995
            } else {
                107.0
            }
        }
        _ => -30.0 - f64::from(n % 40),
    };
    let levels: Vec<f64> = (0..5 * 700).map(level_db).collect();
    let mut trace = Trace::new(0.01);
    for (step, level_db) in levels.iter().enumerate() {
        trace.push_power(10f64.powf(level_db / 10.0));
        assert_eq!(trace.len(), step + 1, "as many as were pushed");
        assert_near(trace.level_db(step), *level_db, TOLERANCE_DB, "the last one");
    }
    for (step, &level_db) in levels.iter().enumerate() {
        assert_near(trace.level_db(step), level_db, TOLERANCE_DB, "level");
    }
}

#[test]
fn steps_that_are_alike_take_next_to_nothing() {
    let mut trace = Trace::new(0.01);
    (0..2048).for_each(|_| trace.push_power(0.0));
    assert!(trace.n_bytes() < 2048 / 4, "{} bytes", trace.n_bytes());
}

#[test]
fn silence_reads_as_0_and_as_the_floor() {
    let mut trace = Trace::new(0.01);
    trace.push_power(0.0);
    assert!(trace.power(0) <= 0.0 && trace.level_db(0) <= FLOOR_DB, "silence is silence");
}

#[test]
fn coarser_steps_hold_mean_powers() {
    let mut trace = Trace::new(0.01);
    [1.0, 0.25, 0.5, 0.5, 0.9].iter().for_each(|&power| trace.push_power(power));
    let coarse = trace.coarser(2);
    assert_eq!(coarse.len(), 2, "the rest is dropped");
    assert_near(coarse.step_s(), 0.02, 1e-12, "step");
    assert_near(coarse.level_db(0), 10.0 * 0.625f64.log10(), 2.0 * TOLERANCE_DB, "mean");
    assert_near(trace.mean_power(2, 4), 0.5, 0.001, "mean of a stretch");
    assert_near(trace.mean_power(7, 9), 0.0, 0.0, "no step, no power");
}

#[test]
fn steps_that_follow_each_other_are_the_single_ones_over_borders_of_pieces_and_groups() {
    let trace = uneven(2_500);
    for steps in [0..2_500, 1_000..1_100, 31..33, 1_023..2_049, 2_040..2_500, 7..7] {
        let powers: Vec<f64> = steps.clone().map(|step| trace.power(step)).collect();
        assert_eq!(trace.powers_in(steps.clone()), powers, "powers of {steps:?}");
        let levels: Vec<f64> = steps.clone().map(|step| trace.level_db(step)).collect();
        assert_eq!(trace.levels_in_db(steps.clone()), levels, "levels of {steps:?}");
        let highest = levels.iter().copied().fold(FLOOR_DB, f64::max);
        assert_near(trace.highest_db(steps), highest, 0.0, "highest");
    }
    assert_eq!(trace.powers().count(), 2_500, "all of them");
}

#[test]
fn means_around_each_step_are_those_of_its_stretch_to_the_last_bit() {
    for (n_steps, reach) in [(2_500, 20), (2_500, 1), (30, 20), (5, 20), (1, 1), (0, 3)] {
        let trace = uneven(n_steps);
        let single: Vec<f64> = (0..n_steps)
            .map(|step| trace.mean_power(step.saturating_sub(reach), step + reach))
            .collect();
        assert_eq!(trace.mean_powers_around(reach), single, "{n_steps} steps, {reach} around");
    }
}

/// Levels between silence and full scale without any order.
fn uneven(n_steps: usize) -> Trace {
    let mut dice = Dice::new(7);
    let mut trace = Trace::new(0.01);
    for step in 0..n_steps {
        let level_db = -60.0 + 20.0 * dice.normal();
        trace.push_power(if step % 97 == 0 { 0.0 } else { 10f64.powf(level_db / 10.0) });
    }
    trace
}
