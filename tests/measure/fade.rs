//! Fades of a wireless link: planted gaps are found, pauses and stops are none.
//!
//! Source: planted truth; what a receiver does where the field fails is common practice.

use deskside::measure::Trace;
use deskside::measure::fade::fades;

/// A minute in steps of 10 ms: phrases of 1.4 s at -25 dBFS that begin every 2 s, the stage at -60 between them.
fn talk(change: impl Fn(f64, f64) -> f64) -> Trace {
    let mut trace = Trace::new(0.01);
    for step in 0..6000 {
        let at_s = f64::from(step) * 0.01 + 0.005;
        let level_db = if at_s % 2.0 < 1.4 { -25.0 } else { -60.0 };
        trace.push_power(10f64.powf(change(at_s, level_db) / 10.0));
    }
    trace
}

/// Talk with a gap from 20.5 s on, down to a level.
fn gap(length_s: f64, down_to_db: f64) -> Trace {
    talk(
        |at_s, level_db| {
            if (20.5..20.5 + length_s).contains(&at_s) { down_to_db } else { level_db }
        },
    )
}

#[test]
fn a_receiver_that_shuts_is_found_with_its_length() {
    for length_s in [0.02, 0.1, 0.6] {
        let found = fades(&gap(length_s, -90.0));
        assert_eq!(found.len(), 1, "{length_s} s: {found:?}");
        assert!((found[0].start_s - 20.5).abs() < 0.011, "{found:?}");
        assert!((found[0].length_s() - length_s).abs() < 0.011, "{found:?}");
    }
    assert_eq!(fades(&gap(0.3, -220.0)).len(), 1, "digital silence is one too");
    // Over the end of a phrase: it comes back to the stage, not to the voice.
    assert_eq!(fades(&gap(1.2, -90.0)).len(), 1, "until the next pause");
}

#[test]
fn pauses_down_to_the_stage_are_none() {
    assert_eq!(fades(&talk(|_, level_db| level_db)), [], "talk with pauses");
    assert_eq!(fades(&gap(0.3, -60.0)), [], "one pause more");
    assert_eq!(fades(&gap(0.3, -66.0)), [], "a stage that is a little quieter for once");
}

#[test]
fn sound_that_dies_away_is_none() {
    // A hall that falls by 60 dB in 0.4 s, and is silent then: the fall is too slow.
    let stops = talk(|at_s, level_db| match at_s - 20.5 {
        since_s if (0.0..0.8).contains(&since_s) => (-25.0 - 150.0 * since_s).max(-90.0),
        _ => level_db,
    });
    assert_eq!(fades(&stops), []);
    // A dry note that is stopped by hand, in a hall without any sound of its own.
    let stopped = talk(|at_s, level_db| match at_s - 20.5 {
        since_s if (0.0..0.2).contains(&since_s) => (-25.0 - 1000.0 * since_s).max(-90.0),
        _ => level_db,
    });
    assert_eq!(fades(&stopped), []);
}

#[test]
fn a_microphone_that_stays_shut_is_none() {
    assert_eq!(fades(&gap(3.2, -90.0)), [], "longer than 3 s: somebody switched it off");
    let ends = talk(|at_s, level_db| if at_s < 40.0 { level_db } else { -90.0 });
    assert_eq!(fades(&ends), [], "it never comes back");
    assert_eq!(fades(&talk(|_, _| -120.0)), [], "an open input");
}
