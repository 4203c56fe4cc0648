//! Tests of `measure::dynamics`.

use deskside::measure::dynamics::{level_spread_lu, moved};
use deskside::measure::{LoudnessMeter, Trace};
use deskside::unit::{Span, Unmeasured};

use crate::support::feeding::{assert_near, measure_whole};
use crate::support::signals::{scaled, segments};

/// Rounding of the trace.
const TOLERANCE_LU: f64 = 0.006;

fn spread(plane: &[f32], active: &[Span]) -> Result<f64, Unmeasured> {
    let loudness = measure_whole(
        48_000,
        &[plane],
        LoudnessMeter::new,
        LoudnessMeter::push,
        LoudnessMeter::finish,
    );
    level_spread_lu(&loudness[0].k_power, active)
}

#[test]
fn two_levels_spread_by_their_difference() {
    let plane = segments(48_000, &[(10.0, Some(-20.0)), (10.0, Some(-33.0))]);
    let active = [Span::new(0.0, 10.0), Span::new(10.5, 20.0)];
    assert_near(spread(&plane, &active).expect("a value"), 13.0, TOLERANCE_LU, "spread");
    let softer = spread(&scaled(&plane, 0.25), &active).expect("a value");
    assert_near(softer, 13.0, TOLERANCE_LU, "gain does not matter");
}

#[test]
fn a_steady_tone_has_no_spread_whatever_lies_outside() {
    let plane = segments(48_000, &[(10.0, Some(-20.0)), (10.0, Some(-60.0))]);
    let found = spread(&plane, &[Span::new(0.5, 10.0)]).expect("a value");
    assert_near(found, 0.0, TOLERANCE_LU, "spread");
}

#[test]
fn what_has_no_spread_says_why() {
    let plane = segments(48_000, &[(10.0, None)]);
    assert_eq!(spread(&plane, &[]), Err(Unmeasured::NeverActive), "never active");
    assert_eq!(spread(&plane, &[Span::new(0.0, 10.0)]), Err(Unmeasured::Silent), "silent");
}

#[test]
fn a_gain_moves_the_levels_of_its_second_and_is_held_until_the_next() {
    let mut steady = Trace::new(0.1);
    (0..60).for_each(|_| steady.push_power(0.01));
    let moved = moved(&steady, &[None, Some(6.0), None, Some(-12.0), Some(0.0)]);
    for (step, gain_db) in [(0, 0.0), (9, 0.0), (15, 6.0), (25, 6.0), (35, -12.0), (55, 0.0)] {
        assert_near(moved.level_db(step), -20.0 + gain_db, TOLERANCE_LU, "a step");
    }
}
