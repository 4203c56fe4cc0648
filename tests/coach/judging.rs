//! Tests of how one number is judged: edges, bounds, guards and confidence.

use deskside::coach::Held;
use deskside::coach::Outcome::{self, Near, NotJudged, OnTarget, Outside};
use deskside::reading::Reading;
use deskside::session::Role;
use deskside::unit::{Fact, Unmeasured};

use super::{advise, outcome, rules};
use crate::support::readings::{channel, session};

/// A lead voice with this loud level; on target from -24 dBFS, near from -32 (borders of `gain-too-low`).
fn voice(level: Fact) -> Reading {
    let mut voice = channel(17, Role::LeadVocal);
    voice.loud_level_dbfs = level;
    session(vec![voice])
}

#[track_caller]
fn check(level: Fact, expected: &Outcome) {
    let advice = advise(&voice(level.clone()));
    let found = outcome(&advice, "gain-too-low");
    match (found, expected) {
        (NotJudged(_), NotJudged(_)) => {}
        _ => assert_eq!(found, expected, "outcome of {level:?}"),
    }
}

#[test]
fn ends_of_a_range_are_inside() {
    check(Fact::exact(-24.0), &OnTarget);
    check(Fact::exact(-24.001), &Near);
    check(Fact::exact(-32.0), &Near);
    check(Fact::exact(-32.001), &Outside);
}

#[test]
fn a_bound_counts_only_when_all_of_it_lies_beyond_the_border() {
    check(Fact::AtMost { at_most: -33.0, confidence: 1.0 }, &Outside);
    check(Fact::AtMost { at_most: -30.0, confidence: 1.0 }, &Near);
    check(Fact::AtMost { at_most: -20.0, confidence: 1.0 }, &NotJudged(String::new()));
    check(Fact::AtLeast { at_least: -20.0, confidence: 1.0 }, &OnTarget);
    check(Fact::AtLeast { at_least: -40.0, confidence: 1.0 }, &NotJudged(String::new()));
}

#[test]
fn a_range_counts_only_when_all_of_it_lies_beyond_the_border() {
    check(Fact::Range { low: -40.0, high: -33.0, confidence: 1.0 }, &Outside);
    check(Fact::Range { low: -40.0, high: -25.0, confidence: 1.0 }, &Near);
    check(Fact::Range { low: -40.0, high: -20.0, confidence: 1.0 }, &NotJudged(String::new()));
    check(Fact::Range { low: -22.0, high: -20.0, confidence: 1.0 }, &OnTarget);
}

#[test]
fn a_missing_value_is_a_silence_with_its_reason() {
    let advice = advise(&voice(Fact::missing(Unmeasured::NeverActive)));
    let silence = advice
        .not_judged
        .iter()
        .find(|silence| silence.rules.contains(&"gain-too-low"))
        .expect("the silence is listed");
    assert_eq!(
        silence.reason, "the channel's own source could not be told from spill, or was not heard",
        "the reason in plain words"
    );
    assert_eq!(silence.channels, ["ch17"], "with its channel");
}

#[test]
fn nineteen_seconds_are_too_little() {
    let mut reading = voice(Fact::exact(-40.0));
    reading.channels[0].active_s = 19.0;
    let found = advise(&reading);
    let reason = NotJudged("too little was heard of it (20 s are needed)".to_owned());
    assert_eq!(outcome(&found, "gain-too-low"), &reason, "20 s are the least");
    reading.channels[0].active_s = 20.0;
    assert_eq!(outcome(&advise(&reading), "gain-too-low"), &Outside, "20 s are enough");
}

#[test]
fn three_events_are_enough_without_20_seconds() {
    let mut reading = session(vec![channel(1, Role::Kick)]);
    reading.channels[0].active_s = 5.0;
    for (count, expected) in [(2, false), (3, true)] {
        reading.channels[0].flat_tops.count = count;
        let found = advise(&reading);
        let is_judged = !matches!(outcome(&found, "clip-input"), NotJudged(_));
        assert_eq!(is_judged, expected, "{count} flat tops in 5 s");
    }
}

#[test]
fn an_unsure_finding_stays_with_the_mentor() {
    let advice = advise(&voice(Fact::sure(-40.0, 0.69)));
    assert!(!rules(&advice.notes).contains(&"gain-too-low"), "tier A asks for 0.7");
    let note = advice
        .mentor
        .iter()
        .find(|note| note.rule.id == "gain-too-low")
        .expect("the mentor sees it");
    assert_eq!(note.held, Some(Held::Unsure), "and why");
    assert!(
        rules(&advise(&voice(Fact::sure(-40.0, 0.7))).notes).contains(&"gain-too-low"),
        "0.7 is enough"
    );
}

#[test]
fn below_half_nothing_is_judged() {
    check(Fact::sure(-40.0, 0.49), &NotJudged(String::new()));
}

#[test]
fn a_role_that_the_sound_contradicts_is_not_judged_by_its_name() {
    let mut reading = voice(Fact::exact(-40.0));
    reading.channels[0].role_by_sound = Some(Role::HiHat);
    assert!(matches!(outcome(&advise(&reading), "gain-too-low"), NotJudged(_)), "voice or hi-hat?");
}
