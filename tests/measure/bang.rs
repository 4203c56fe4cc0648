//! Bangs that change the floor: planted ones are found, hits are none.

use deskside::measure::Trace;
use deskside::measure::bang::{bangs, floor_change_db};

/// A trace of 10 ms, 20 s long.
fn trace(level_db: impl Fn(f64) -> f64) -> Trace {
    let mut trace = Trace::new(0.01);
    for step in 0..2000 {
        trace.push_power(10f64.powf(level_db(f64::from(step) * 0.01 + 0.005) / 10.0));
    }
    trace
}

/// A bang at 10 s that falls by 500 dB a second, into floors before and behind.
fn plug(at_s: f64, top_db: f64, before_db: f64, behind_db: f64) -> f64 {
    let since_s = at_s - 10.0;
    if since_s < 0.0 { before_db } else { (top_db - 500.0 * since_s).max(behind_db) }
}

#[test]
fn a_plug_that_is_pulled_is_found() {
    let levels = trace(|at_s| plug(at_s, -15.0, -60.0, -85.0));
    let found = bangs(&levels);
    assert_eq!(found.len(), 1, "{found:?}");
    assert!((found[0].at_s - 10.0).abs() < 0.011, "{found:?}");
    assert!((found[0].floor_change_db + 25.0).abs() < 0.1, "-60 to -85 dBFS: {found:?}");
    // The step of the bang is its first 10 ms, 2.5 dB under its top in the middle.
    assert!((found[0].over_db - 42.5).abs() < 0.1, "{found:?}");
}

#[test]
fn a_hit_after_which_nothing_changes_is_none() {
    assert_eq!(bangs(&trace(|at_s| plug(at_s, -15.0, -60.0, -61.0))), [], "the floor stays");
}

#[test]
fn a_note_that_rings_is_none() {
    let ringing = |at_s: f64| {
        if at_s < 10.0 { -80.0 } else { (-15.0 - 60.0 * (at_s - 10.0)).max(-60.0) }
    };
    assert_eq!(bangs(&trace(ringing)), [], "60 dB a second is a string");
}

#[test]
fn music_that_begins_is_none() {
    let beginning = |at_s: f64| if at_s < 10.0 { -70.0 } else { -20.0 };
    assert_eq!(bangs(&trace(beginning)), [], "it stays loud");
}

#[test]
fn a_hit_before_music_is_none() {
    let before_music = |at_s: f64| match at_s {
        ..10.0 => -80.0,
        10.0..10.8 => (-15.0 - 500.0 * (at_s - 10.0)).max(-80.0),
        _ => -45.0,
    };
    assert_eq!(bangs(&trace(before_music)), [], "the floor is another only 0.8 s later");
}

#[test]
fn a_change_of_the_floor_reads_as_its_size() {
    let levels = trace(|at_s| if at_s < 10.0 { -70.0 } else { -62.0 });
    assert!((floor_change_db(&levels, 10.0).unwrap() - 8.0).abs() < 0.011, "8 dB");
    assert_eq!(floor_change_db(&levels, 30.0), None, "behind the end");
}
