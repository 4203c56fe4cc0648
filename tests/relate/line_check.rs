//! Line check: inputs that are heard alone count, the others are named.

use deskside::measure::Trace;
use deskside::relate::activity::own_activity;
use deskside::relate::line_check::{LineCheck, line_check, turns};
use deskside::session::Role;
use deskside::unit::Unmeasured;

use crate::support::stage::{Band, Stage};

fn check(stage: &Stage, first_song_s: Option<f64>) -> Result<LineCheck, Unmeasured> {
    let traces = stage.traces(3);
    let levels: Vec<&Trace> = traces.iter().collect();
    let sources = stage.sources();
    let activities = own_activity(&levels, &sources, &stage.kin);
    let turns = turns(&levels, &activities, &sources, &stage.kin);
    line_check(&turns, &activities, &sources, &stage.kin, first_song_s)
}

#[test]
fn complete_line_check_is_heard() {
    let mut band = Band::new();
    band.evening();
    let found = check(&band.stage, Some(84.0)).unwrap();
    // A kit's pieces spill into each other; one of eighteen inputs may be missed.
    assert!(found.heard_percent >= 94.0, "{found:?}");
}

#[test]
fn inputs_that_were_never_alone_are_named() {
    let mut band = Band::new();
    band.evening();
    let (bass, keys) = (band.players[0], band.players[3]);
    for idx in [bass, keys, band.players[4]] {
        band.stage.channels[idx].plays.retain(|play| play.0 > 50.0);
    }
    let found = check(&band.stage, Some(84.0)).unwrap();
    for idx in [bass, keys] {
        assert!(found.missing.contains(&idx), "{idx} is missing in {found:?}");
    }
}

#[test]
fn session_that_begins_with_a_song_has_no_line_check() {
    let mut band = Band::new();
    band.song(2.0, 90.0);
    band.stage.length_s = 95.0;
    let found = check(&band.stage, Some(2.0)).unwrap();
    assert!(found.heard_percent < 1.0, "{found:?}");
    assert!(!found.missing.is_empty(), "all used inputs are missing: {found:?}");
}

#[test]
fn one_second_alone_is_not_enough() {
    let mut band = Band::new();
    band.evening();
    let trumpet = band.stage.line(Role::Brass, crate::support::stage::Motion::Notes);
    band.stage.play(&[trumpet], 48.0, 49.0);
    band.stage.play(&[trumpet], 84.0, 190.0);
    let found = check(&band.stage, Some(84.0)).unwrap();
    assert!(found.missing.contains(&trumpet), "{found:?}");
}

#[test]
fn without_a_song_there_is_no_value() {
    let mut band = Band::new();
    band.evening();
    let reason = check(&band.stage, None).unwrap_err();
    assert_eq!(reason, Unmeasured::Because("no song was found"), "nothing to be before");
}
