//! Spill: who explains whom, on stages of two or three channels.

use deskside::measure::Trace;
use deskside::relate::activity::{Activity, Presence, own_activity};
use deskside::session::Role;

use crate::support::stage::{Motion, Stage};

fn find(stage: &Stage) -> Vec<Activity> {
    let traces = stage.traces(11);
    let levels: Vec<&Trace> = traces.iter().collect();
    own_activity(&levels, &stage.sources(), &stage.kin)
}

/// Guitar and fiddle, each alone for a while; an open microphone between them that nobody uses.
fn duo() -> (Stage, [usize; 3]) {
    let mut stage = Stage::default();
    let guitar = stage.mic(Role::ElectricGuitar, Motion::Notes);
    let fiddle = stage.mic(Role::Strings, Motion::Notes);
    let open = stage.mic(Role::Speech, Motion::Words);
    stage.channels[open].spill_db = -14.0;
    stage.play(&[guitar], 5.0, 40.0);
    stage.play(&[fiddle], 50.0, 90.0);
    stage.length_s = 100.0;
    (stage, [guitar, fiddle, open])
}

#[test]
fn neighbour_that_is_heard_alone_is_explained() {
    let (stage, [guitar, fiddle, open]) = duo();
    let found = find(&stage);
    // Two borders at 100 ms each, and the level gate of 28 dB at the soft ends.
    assert!((found[guitar].active_s - 35.0).abs() < 1.0, "{:?}", found[guitar]);
    assert!((found[fiddle].active_s - 40.0).abs() < 1.0, "{:?}", found[fiddle]);
    assert_eq!(found[open].presence, Presence::OnlySpill, "{:?}", found[open]);
}

/// The unused microphone hears the guitar just as the guitar's own does: one source in both. It belongs to the channel
/// that it lifts further out of its floor.
#[test]
fn unused_microphone_does_not_explain_a_player_away() {
    let (mut stage, [guitar, _, open]) = duo();
    stage.channels[open].own_dbfs += 14.0;
    stage.channels[open].noise_dbfs += 24.0;
    let found = find(&stage);
    assert!((found[guitar].active_s - 35.0).abs() < 1.0, "{:?}", found[guitar]);
    assert!(found[open].active_s < 1.0, "{:?}", found[open]);
}

#[test]
fn two_channels_on_one_source_do_not_explain_each_other() {
    let mut stage = Stage::default();
    let top = stage.mic(Role::SnareTop, Motion::Hits(10));
    let bottom = stage.mic(Role::SnareBottom, Motion::Hits(10));
    stage.kin = vec![(top, bottom)];
    stage.play(&[top, bottom], 5.0, 45.0);
    stage.length_s = 50.0;
    let found = find(&stage);
    for idx in [top, bottom] {
        // 40 hits that stay within 28 dB for some 300 ms.
        assert!(found[idx].active_s > 8.0, "{:?}", found[idx]);
    }
}

#[test]
fn kit_is_the_overheads_own_source() {
    let mut stage = Stage::default();
    let kick = stage.mic(Role::Kick, Motion::Hits(20));
    let guitar = stage.mic(Role::ElectricGuitar, Motion::Notes);
    let overhead = stage.mic(Role::Overhead, Motion::Notes);
    stage.channels[overhead].spill_db = -12.0;
    stage.play(&[kick], 5.0, 45.0);
    stage.play(&[guitar], 50.0, 90.0);
    stage.length_s = 100.0;
    let active = &find(&stage)[overhead];
    let sounds = |from_s: f64, to_s: f64| -> f64 {
        let span = deskside::unit::Span::new(from_s, to_s);
        active.spans.iter().filter_map(|own| own.shared(span)).map(|own| own.length_s()).sum()
    };
    assert!(sounds(5.0, 45.0) > 20.0, "with the kick: {active:?}");
    assert!(sounds(50.0, 90.0) < 2.0, "not with the guitar: {active:?}");
}
