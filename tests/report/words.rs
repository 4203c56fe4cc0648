//! Words of every kind: each has one, no two of a kind share it, and JSON writes it in kebab case.

use std::collections::BTreeSet;

use deskside::coach::{Group, Held, Severity};
use deskside::reading::SegmentKind;
use deskside::session::{Role, RoleSource, Tap};

const SEGMENT_KINDS: [SegmentKind; 7] = [
    SegmentKind::Talk,
    SegmentKind::Song,
    SegmentKind::Playback,
    SegmentKind::BandTalk,
    SegmentKind::LineCheck,
    SegmentKind::OtherPlaying,
    SegmentKind::Silence,
];

const TAPS: [Tap; 6] = [Tap::Raw, Tap::Processed, Tap::Mix, Tap::Monitor, Tap::Effects, Tap::Room];

const SOURCES: [RoleSource; 4] =
    [RoleSource::Stated, RoleSource::Name, RoleSource::Sound, RoleSource::None];

const GROUPS: [Group; 12] = [
    Group::Source,
    Group::Microphone,
    Group::Gain,
    Group::Polarity,
    Group::Tone,
    Group::Dynamics,
    Group::Balance,
    Group::Effects,
    Group::Feedback,
    Group::Loudness,
    Group::Recording,
    Group::Habits,
];

/// Checks the words of one kind.
fn check(words: &[&str]) {
    let unique: BTreeSet<&&str> = words.iter().collect();
    assert_eq!(unique.len(), words.len(), "two share a word: {words:?}");
    for word in words {
        assert!(
            !word.is_empty() && word.to_lowercase() == **word && word.trim() == *word,
            "`{word}`"
        );
    }
}

#[test]
fn every_kind_has_a_word_of_its_own() {
    check(&Role::ALL.map(Role::word));
    check(&SEGMENT_KINDS.map(SegmentKind::word));
    check(&TAPS.map(Tap::word));
    check(&SOURCES.map(RoleSource::word));
    check(&GROUPS.map(Group::word));
    check(&[Held::MentorOnly, Held::Unsure, Held::NoRoom, Held::NotStarter].map(Held::word));
}

#[test]
fn json_writes_kinds_in_kebab_case() {
    let json = |value: serde_json::Value| value.as_str().unwrap().to_owned();
    for role in Role::ALL {
        let key = json(serde_json::to_value(role).unwrap());
        assert_eq!(
            key.replace('-', " "),
            role.word().replace('-', " "),
            "a role is called the same everywhere"
        );
    }
    assert_eq!(json(serde_json::to_value(Tap::Raw).unwrap()), "raw");
    assert_eq!(json(serde_json::to_value(SegmentKind::OtherPlaying).unwrap()), "other-playing");
    assert_eq!(json(serde_json::to_value(Severity::Amber).unwrap()), "amber");
    assert_eq!(json(serde_json::to_value(Severity::Red).unwrap()), "red");
}
