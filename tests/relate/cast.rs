//! Who is heard where, on a stage of known channels.

use deskside::relate::activity::Source;
use deskside::relate::cast::{Candidate, Cast, MOST_REFERENCES};
use deskside::session::Role;

fn candidate(role: Role, is_line: bool, active_s: f64) -> Candidate {
    Candidate { source: Source { role, is_line }, is_heard: true, active_s, has_low_notes: true }
}

#[test]
fn the_wire_stands_for_a_source_that_has_a_microphone_too() {
    let stage = [
        candidate(Role::Bass, false, 60.0),
        candidate(Role::Bass, true, 60.0),
        candidate(Role::LeadVocal, false, 60.0),
    ];
    let cast = Cast::new(&stage, &[(0, 1)]);
    assert_eq!(cast.references, [1, 2]);
    let own: Vec<Option<usize>> = cast.mics.iter().map(|mic| mic.own).collect();
    assert_eq!(
        own,
        [Some(0), Some(0), Some(1)],
        "the amplifier's microphone hears the DI's source"
    );
    let listeners = cast.listeners(&stage);
    assert!(listeners[1].is_none(), "nothing reaches a wire");
    assert_eq!(listeners[0].as_ref().map(|one| one.others.clone()), Some(vec![1]));
}

#[test]
fn an_overhead_hears_the_kit_on_purpose() {
    let stage = [
        candidate(Role::Kick, false, 60.0),
        candidate(Role::SnareTop, false, 60.0),
        candidate(Role::Overhead, false, 60.0),
        candidate(Role::LeadVocal, false, 60.0),
    ];
    let cast = Cast::new(&stage, &[]);
    let listeners = cast.listeners(&stage);
    let overhead = listeners[2].as_ref().expect("a microphone listens");
    assert_eq!(overhead.others, [3], "only the voice is a stranger there");
    assert_eq!(overhead.own, None);
    assert_eq!(cast.mics[3].own, Some(3));
}

#[test]
fn the_longest_sounding_are_told_apart_where_there_are_too_many() {
    let stage: Vec<Candidate> =
        (0..24).map(|idx| candidate(Role::BackingVocal, false, f64::from(idx))).collect();
    let cast = Cast::new(&stage, &[]);
    assert_eq!(cast.references.len(), MOST_REFERENCES);
    assert_eq!(cast.references, (8..24).collect::<Vec<_>>());
    assert_eq!(cast.mics.len(), 24, "the others still listen");
    assert_eq!(cast.mics[0].own, None);
}

#[test]
fn a_silent_channel_takes_no_part() {
    let mut stage = [candidate(Role::Keys, true, 10.0), candidate(Role::LeadVocal, false, 10.0)];
    stage[0].is_heard = false;
    let cast = Cast::new(&stage, &[]);
    assert_eq!(cast.references, [1]);
    assert_eq!(cast.mics.len(), 1);
}
