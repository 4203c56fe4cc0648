//! What earlier sessions change: the weight of a note, what is said of it, the strength, the focus, and the trust in a rule. And what
//! they leave alone.

use std::collections::BTreeMap;

use deskside::coach::{Advice, Aims, Mark, Marks, Options, Past, PastNight, Seen, Verdict, coach};
use deskside::reading::{MainMix, Reading};
use deskside::session::Role;
use deskside::unit::Fact;

use super::rules;
use crate::support::readings::{channel, main_mix, session, with_main};

/// A voice whose gain is a little too low, and a guitar whose gain is far too hot.
fn evening() -> Reading {
    let mut voice = channel(17, Role::LeadVocal);
    voice.name = "LV".to_owned();
    voice.loud_level_dbfs = Fact::exact(-26.0);
    let mut guitar = channel(12, Role::ElectricGuitar);
    guitar.name = "E Git".to_owned();
    guitar.loud_level_dbfs = Fact::exact(-9.0);
    let mut reading = session(vec![voice, guitar]);
    reading.session.operator = Some("wren".to_owned());
    reading
}

fn advise(reading: &Reading, past: Past) -> Advice {
    coach(reading, &Aims::default(), &Options { past, ..Options::default() })
}

/// The version that a rule has tonight; none where it is not judged.
fn version(rule: &str) -> String {
    let advice = advise(&evening(), Past::default());
    let judged = advice.judgements.iter().find(|one| one.rule.id == rule);
    judged.map_or_else(String::new, |one| one.rule_version.clone())
}

/// Sessions before, newest first, in which a rule fired at a place or did not.
fn nights(rule: &str, place: &str, hits: &[bool]) -> Vec<PastNight> {
    let rule_version = version(rule);
    let night = |is_hit: &bool| PastNight {
        focus: None,
        seen: vec![Seen {
            rule: rule.to_owned(),
            rule_version: rule_version.clone(),
            place: place.to_owned(),
            is_hit: *is_hit,
        }],
    };
    hits.iter().map(night).collect()
}

fn own(nights: Vec<PastNight>) -> Past {
    Past { n_sessions: nights.len(), own: nights, ..Past::default() }
}

#[test]
fn what_recurs_weighs_more_and_is_told_with_its_count() {
    let reading = evening();
    let first = advise(&reading, Past::default());
    assert_eq!(rules(&first.notes), ["gain-too-hot", "gain-too-low"], "far off before near");
    assert!(first.notes.iter().all(|note| note.recurred.is_none()), "nothing is known before");
    // Twice before makes 1.5 times the weight, four times 1.75 at most.
    let hits = [true, false, true, false];
    let advice = advise(&reading, own(nights("gain-too-low", "LV", &hits)));
    let low = advice.notes.iter().find(|note| note.rule.id == "gain-too-low").unwrap();
    let recurred = low.recurred.unwrap();
    assert_eq!((recurred.n_hits, recurred.n_sessions), (3, 5), "tonight included");
    assert_eq!(recurred.words(), "the third time in 5 sessions");
}

#[test]
fn enough_recurrence_changes_the_order() {
    let mut reading = evening();
    // Both near their targets: effect and ease of the two rules decide, until one of them recurs.
    reading.channels[1].loud_level_dbfs = Fact::exact(-11.5);
    let plain = rules(&advise(&reading, Past::default()).notes);
    assert_eq!(plain.len(), 2, "{plain:?}");
    let place = |rule: &str| if rule == "gain-too-low" { "LV" } else { "E Git" };
    let past = own(nights(plain[1], place(plain[1]), &[true; 5]));
    let found = rules(&advise(&reading, past).notes);
    assert_eq!(found, [plain[1], plain[0]], "1.75 times the weight");
}

#[test]
fn only_the_same_rule_version_place_and_five_sessions_count() {
    let reading = evening();
    let recurred = |past: Past| {
        let advice = advise(&reading, past);
        let low = advice.notes.iter().find(|note| note.rule.id == "gain-too-low").unwrap();
        low.recurred.map(|recurred| (recurred.n_hits, recurred.n_sessions))
    };
    assert_eq!(recurred(own(nights("gain-too-low", "BV 1", &[true; 3]))), None, "another voice");
    let mut other = nights("gain-too-low", "LV", &[true; 3]);
    other.iter_mut().for_each(|night| night.seen[0].rule_version = "before".to_owned());
    assert_eq!(recurred(own(other)), None, "other targets");
    let long_ago = [false, false, false, false, false, true, true];
    assert_eq!(recurred(own(nights("gain-too-low", "LV", &long_ago))), None, "five look back");
    let mut all = own(nights("gain-too-low", "LV", &[true; 9]));
    assert_eq!(recurred(all.clone()), Some((6, 6)), "six with tonight");
    all.common = vec![("gain-too-low".to_owned(), "LV".to_owned())];
    assert_eq!(recurred(all), None, "what comes back whoever operates is nobody's habit");
}

#[test]
fn what_was_off_before_and_is_met_now_is_the_strength() {
    let level = MainMix { mono_fold_lu: Fact::exact(0.0), ..main_mix() };
    let reading = with_main(level);
    let plain = advise(&reading, Past::default());
    assert_eq!(plain.strengths[0].rule, "clip-main", "the greater effect comes first");
    let past = own(nights("mono-fold", "", &[true, true, false]));
    let found = &advise(&reading, past).strengths[0];
    assert_eq!(found.rule, "mono-fold");
    assert!(
        found.sentence.ends_with("It was off target in 2 of the 3 sessions before."),
        "{}",
        found.sentence
    );
}

/// Sessions before in which a rule was the focus.
fn focused(rule: &str, place: &str, hits: &[bool]) -> Past {
    let mut nights = nights(rule, place, hits);
    nights.iter_mut().for_each(|night| night.focus = Some(rule.to_owned()));
    own(nights)
}

#[test]
fn a_focus_stays_until_it_was_met_twice_running() {
    let mut reading = evening();
    let focus = |reading: &Reading, hits: &[bool]| {
        let advice = advise(reading, focused("gain-too-low", "LV", hits));
        let first = advice.notes.first().map(|note| note.rule.id);
        let focus = advice.focus.unwrap();
        (focus.rule, focus.is_kept, first)
    };
    assert_eq!(
        focus(&reading, &[true]),
        ("gain-too-low", true, Some("gain-too-low")),
        "it fires tonight as well and stands first"
    );
    reading.channels[0].loud_level_dbfs = Fact::exact(-18.0);
    assert_eq!(focus(&reading, &[true]), ("gain-too-low", true, Some("gain-too-hot")), "met once");
    assert_eq!(focus(&reading, &[false]), ("gain-too-hot", false, Some("gain-too-hot")), "twice");
}

#[test]
fn a_focus_that_is_marked_or_was_not_judged_is_let_go() {
    let reading = evening();
    let mut marks = Marks::default();
    marks.set(Mark {
        rule: "gain-too-low".to_owned(),
        channels: vec!["LV".to_owned()],
        mark: Verdict::NotOurs,
        comment: String::new(),
    });
    let past = focused("gain-too-low", "LV", &[true]);
    let options = Options { past, ..Options::default() };
    let advice = coach(&reading, &Aims::default().with_marks(marks), &options);
    assert_eq!(advice.focus.unwrap().rule, "gain-too-hot", "the mentor changed it");
    let advice = advise(&reading, focused("cue-late", "LV", &[true]));
    assert_eq!(advice.focus.unwrap().rule, "gain-too-hot", "nothing to notice it by");
}

#[test]
fn marks_of_earlier_sessions_count_with_those_of_tonight() {
    // 8 of 10 is believed before; with 2 more of 10 it is 10 of 20, under 0.8.
    let earlier = BTreeMap::from([("gain-too-low".to_owned(), (2, 10))]);
    let aims = Aims::default().with_marks(Marks::default().after(&earlier));
    assert_eq!(coach(&evening(), &aims, &Options::default()).demoted, ["gain-too-low"]);
    let few = BTreeMap::from([("gain-too-low".to_owned(), (0, 9))]);
    let aims = Aims::default().with_marks(Marks::default().after(&few));
    assert!(coach(&evening(), &aims, &Options::default()).demoted.is_empty(), "nine are too few");
    assert!(
        !Marks::default().after(&few).to_json().contains("earlier"),
        "the file holds tonight's"
    );
}
