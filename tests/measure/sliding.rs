//! Tests of `measure::sliding`.

use deskside::measure::Trace;
use deskside::measure::sliding::{
    ACTIVE_NEEDS_S, energy_mean_db, enough, level_db, levels_db, steps_inside, windows,
};
use deskside::measure::trace::FLOOR_DB;
use deskside::unit::{Span, Unmeasured};

use crate::support::feeding::assert_near;

fn trace(powers: &[f64]) -> Trace {
    let mut trace = Trace::new(0.01);
    powers.iter().for_each(|&power| trace.push_power(power));
    trace
}

#[test]
fn steps_lie_wholly_inside_a_stretch() {
    assert_eq!(steps_inside(Span::new(0.1, 0.3), 0.01, 100), 10..30, "borders on steps");
    assert_eq!(steps_inside(Span::new(0.101, 0.299), 0.01, 100), 11..29, "borders between steps");
    assert_eq!(steps_inside(Span::new(0.9, 7.0), 0.01, 100), 90..100, "beyond the end");
    assert!(steps_inside(Span::new(3.0, 7.0), 0.01, 100).is_empty(), "outside");
    assert!(steps_inside(Span::new(0.101, 0.102), 0.01, 100).is_empty(), "shorter than a step");
}

#[test]
fn windows_hop_from_the_begin_of_each_stretch() {
    let trace = trace(&[1.0; 200]);
    let spans = [Span::new(0.1, 0.75), Span::new(1.0, 1.2), Span::new(1.95, 2.5)];
    let found = windows(&trace, &spans, 0.4, 0.1);
    // Three fit into the first; the second is shorter than a window, which is centred on it; so is what there is of the third,
    // as far as there are steps.
    assert_eq!(found, [10..50, 20..60, 30..70, 90..130, 177..200], "windows");
}

#[test]
fn levels_need_activity_and_sound() {
    let steady = trace(&[0.01; 1_000]);
    let levels = levels_db(&steady, &[Span::new(0.0, 10.0)], 0.4, 0.1).expect("levels");
    assert_eq!(levels.len(), 97, "windows of 0.4 s every 0.1 s in 10 s");
    assert!(levels.iter().all(|level_db| (level_db + 20.0).abs() < 0.003), "-20 dB throughout");
    assert_eq!(levels_db(&steady, &[], 0.4, 0.1), Err(Unmeasured::NeverActive), "no stretch");
    let short = Unmeasured::TooLittleActive { have_s: 1.0, need_s: ACTIVE_NEEDS_S };
    assert_eq!(levels_db(&steady, &[Span::new(0.0, 1.0)], 0.4, 0.1), Err(short), "too little");
    let late = levels_db(&steady, &[Span::new(20.0, 30.0)], 0.4, 0.1);
    assert_eq!(late, Err(Unmeasured::NeverActive), "after the end");
    let silent = levels_db(&trace(&[0.0; 1_000]), &[Span::new(0.0, 10.0)], 0.4, 0.1);
    assert_eq!(silent, Err(Unmeasured::Silent), "silence");
    assert_eq!(enough(&[Span::new(0.0, 3.0)]), Ok(()), "just enough");
}

#[test]
fn levels_and_powers_convert() {
    assert_near(level_db(0.5), -3.010_3, 1e-4, "half power");
    assert_near(level_db(0.0), FLOOR_DB, 0.0, "silence");
    assert_near(energy_mean_db(&[-10.0, -20.0]), 10.0 * 0.055f64.log10(), 1e-9, "energy mean");
    assert_near(energy_mean_db(&[]), FLOOR_DB, 0.0, "nothing");
}
