//! Tests of `measure::Trace`.

use deskside::measure::Trace;
use deskside::measure::trace::FLOOR_DB;

use crate::support::feeding::assert_near;

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
    assert_eq!(trace.n_bytes(), 3_000, "two bytes a step");
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
