//! Rise of a level: a step of known size reads as that size.

use deskside::measure::Trace;
use deskside::measure::rise::rise_db;

/// A trace of 10 ms of these levels.
fn trace(levels_db: impl Iterator<Item = f64>) -> Trace {
    let mut trace = Trace::new(0.01);
    levels_db.for_each(|level_db| trace.push_power(10f64.powf(level_db / 10.0)));
    trace
}

/// A trace holds levels in steps of 0.005 dB.
const TOLERANCE_DB: f64 = 0.006;

#[test]
fn a_step_reads_as_its_size() {
    let levels = trace((0..200).map(|n| if n < 100 { -50.0 } else { -38.0 }));
    for at_s in [0.97, 1.0, 1.03] {
        let found = rise_db(&levels, at_s).unwrap();
        assert!((found - 12.0).abs() < TOLERANCE_DB, "at {at_s} s: {found} dB");
    }
}

#[test]
fn steady_sound_does_not_rise() {
    let found = rise_db(&trace((0..200).map(|_| -30.0)), 1.0).unwrap();
    assert!(found.abs() < TOLERANCE_DB, "{found} dB");
}

#[test]
fn a_fall_is_no_rise() {
    let levels = trace((0..200).map(|n| if n < 98 { -30.0 } else { -60.0 }));
    assert!(rise_db(&levels, 1.02).unwrap() < 0.0, "it falls");
}

#[test]
fn nothing_is_told_of_moments_that_were_not_recorded() {
    assert_eq!(rise_db(&trace((0..20).map(|_| -30.0)), 5.0), None, "behind the end");
    assert_eq!(rise_db(&Trace::new(0.01), 0.0), None, "no steps");
}
