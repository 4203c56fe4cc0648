//! Two reviews against each other: what is told, what is not, and what is called hard to compare.

use deskside::comparison::{Comparison, Course, compare};
use deskside::page;
use deskside::reading::Reading;
use deskside::report::{Look, comparison};
use deskside::session::{Role, Tap};
use deskside::unit::{Fact, Unmeasured};

use crate::page::rehearsal;
use crate::sheet::stored;
use crate::support::readings::{channel, session};

/// Two voices and a guitar, all on target.
fn evening() -> Reading {
    let mut reading = session(vec![
        channel(1, Role::LeadVocal),
        channel(2, Role::BackingVocal),
        channel(3, Role::ElectricGuitar),
    ]);
    for (channel, name) in reading.channels.iter_mut().zip(["LV", "BV", "E Git"]) {
        channel.name = name.to_owned();
    }
    reading
}

/// The same with a voice that comes in low.
fn with_low_voice() -> Reading {
    let mut reading = evening();
    reading.channels[0].loud_level_dbfs = Fact::exact(-40.0);
    reading
}

fn compared(then: &Reading, now: &Reading) -> Comparison {
    compare(&stored(then), &stored(now))
}

fn courses(found: &Comparison) -> Vec<(&'static str, Course)> {
    found.findings.iter().map(|one| (one.rule, one.course)).collect()
}

fn moved(found: &Comparison) -> Vec<(&'static str, &str)> {
    found.moved.iter().map(|one| (one.number, one.whose.as_str())).collect()
}

#[test]
fn a_review_against_itself_says_that_nothing_changed() {
    for reading in [rehearsal(), evening(), with_low_voice()] {
        let found = compared(&reading, &reading);
        assert!(found.differences.is_empty(), "{:?}", found.differences);
        assert!(found.moved.is_empty(), "{:?}", moved(&found));
        assert!(
            found.findings.iter().all(|one| one.course == Course::Stays),
            "{:?}",
            courses(&found)
        );
        assert!(found.n_compared > 5, "{} numbers", found.n_compared);
        let text = comparison::table(Look::PIPE, &found);
        assert!(text.contains("none moved by more than it is sure of"), "{text}");
    }
}

#[test]
fn a_voice_that_came_in_low_is_new_and_gone_the_other_way_round() {
    let found = compared(&evening(), &with_low_voice());
    assert!(courses(&found).contains(&("gain-too-low", Course::New)), "{:?}", courses(&found));
    assert_eq!(moved(&found), [("loud level", "LV")], "one number moved");
    let text = comparison::table(Look::PIPE, &found);
    assert!(text.contains("-22.0 dB"), "from -18 to -40: {text}");
    let found = compared(&with_low_voice(), &evening());
    assert!(courses(&found).contains(&("gain-too-low", Course::Gone)), "{:?}", courses(&found));
    assert_eq!(found.charts[0].rows[0].name, "LV", "the changed one comes first");
}

#[test]
fn what_was_not_judged_is_never_called_gone() {
    let mut silent = with_low_voice();
    silent.channels[0].loud_level_dbfs = Fact::missing(Unmeasured::NeverActive);
    let found = compared(&with_low_voice(), &silent);
    assert!(
        courses(&found).contains(&("gain-too-low", Course::NotJudgedNow)),
        "{:?}",
        courses(&found)
    );
    let mut without = with_low_voice();
    without.channels.remove(0);
    let found = compared(&with_low_voice(), &without);
    assert!(
        courses(&found).contains(&("gain-too-low", Course::NotJudgedNow)),
        "{:?}",
        courses(&found)
    );
    assert!(
        found.differences.iter().any(|one| one.contains("Only in the first: LV")),
        "{:?}",
        found.differences
    );
    let found = compared(&silent, &with_low_voice());
    assert!(
        courses(&found).contains(&("gain-too-low", Course::NotJudgedThen)),
        "{:?}",
        courses(&found)
    );
}

#[test]
fn a_step_within_what_the_number_is_sure_of_is_not_told() {
    // docs/accuracy.md: a loud level lies within 1 dB, so two differ when they are 2 dB apart.
    for (step_db, is_told) in [(1.9, false), (-1.9, false), (2.1, true), (-2.1, true)] {
        let mut now = evening();
        now.channels[1].loud_level_dbfs = Fact::exact(-18.0 + step_db);
        let found = compared(&evening(), &now);
        assert_eq!(!found.moved.is_empty(), is_told, "{step_db} dB: {:?}", moved(&found));
    }
}

#[test]
fn a_bound_moved_only_where_all_of_it_lies_away() {
    let quiet = |fact: Fact| {
        let mut reading = evening();
        reading.channels[1].quiet_level_dbfs = fact;
        reading
    };
    let bound = |at_most: f64| Fact::AtMost { at_most, confidence: 0.9 };
    let found = compared(&quiet(Fact::exact(-60.0)), &quiet(bound(-70.0)));
    assert_eq!(moved(&found), [("quiet level", "BV")], "at least 10 dB lower");
    let found = compared(&quiet(Fact::exact(-60.0)), &quiet(bound(-50.0)));
    assert!(found.moved.is_empty(), "it may be the same: {:?}", moved(&found));
    let found = compared(&quiet(bound(-90.0)), &quiet(bound(-60.0)));
    assert!(found.moved.is_empty(), "so may two bounds: {:?}", moved(&found));
}

#[test]
fn a_channel_is_known_by_its_name_and_not_by_its_number() {
    let mut now = evening();
    now.channels.swap(0, 2);
    for (at, channel) in now.channels.iter_mut().enumerate() {
        channel.number = at + 1;
        channel.id = format!("ch{:02}", at + 1);
    }
    now.channels[2].top_peak_dbfs = Fact::exact(-12.0);
    let found = compared(&evening(), &now);
    assert_eq!(moved(&found), [("top peak", "LV")], "the patch moved, the voice did not");
    assert!(found.differences.is_empty(), "{:?}", found.differences);
}

#[test]
fn what_makes_two_evenings_hard_to_compare_is_said() {
    let said = |change: &dyn Fn(&mut Reading), word: &str| {
        let mut now = evening();
        change(&mut now);
        let found = compared(&evening(), &now);
        assert!(
            found.differences.iter().any(|one| one.contains(word)),
            "`{word}` in {:?}",
            found.differences
        );
        found
    };
    said(&|now| now.session.place = Some("Barn".to_owned()), "Two places: not stated, then Barn");
    said(&|now| now.session.is_rehearsal = false, "rehearsal, then performance");
    said(&|now| now.session.style = "acoustic".to_owned(), "Two styles");
    said(&|now| now.channels[2].name = "Lute".to_owned(), "Only in the second: Lute");
    let found = said(&|now| now.channels[0].role = Role::Speech, "was taken as");
    assert!(moved(&found).iter().all(|one| one.1 != "LV"), "and is not compared");
    let found = said(
        &|now| {
            now.channels[0].tap = Tap::Processed;
            now.channels[0].loud_level_dbfs = Fact::exact(-9.0);
        },
        "another place of the desk",
    );
    assert!(moved(&found).iter().all(|one| one.1 != "LV"), "levels of two taps are no change");
    let other_hand = said(&|now| now.session.operator = Some("wren".to_owned()), "Another hand");
    let text = comparison::table(Look::PIPE, &other_hand);
    assert!(!text.contains("wren"), "no label stands in a comparison: {text}");
}

#[test]
fn a_rule_that_changed_in_between_is_not_compared() {
    let (then, mut now) = (stored(&with_low_voice()), stored(&evening()));
    let of_rule = now.judged.iter_mut().filter(|one| one.rule.id == "gain-too-low");
    of_rule.for_each(|one| one.rule_version = "00000000".to_owned());
    let found = compare(&then, &now);
    assert!(
        courses(&found).contains(&("gain-too-low", Course::RuleChanged)),
        "{:?}",
        courses(&found)
    );
    assert!(
        found.differences.iter().any(|one| one.contains("gain-too-low")),
        "{:?}",
        found.differences
    );
    now.program = Some("deskside 9.9.9".to_owned());
    let found = compare(&then, &now);
    assert!(found.differences.iter().any(|one| one.contains("9.9.9")), "{:?}", found.differences);
}

#[test]
fn a_name_from_outside_never_becomes_markup_in_a_comparison() {
    const BAD: &str = "<script>alert(1)</script>\" onload=\"x\u{202e}\u{7}\u{1b}[31m";
    let bad = |mut reading: Reading| {
        reading.session.name = BAD.to_owned();
        reading.channels[0].name = BAD.to_owned();
        reading
    };
    let mut other = bad(with_low_voice());
    other.session.place = Some(BAD.to_owned());
    let found = compared(&bad(evening()), &other);
    let html = page::comparison(&found);
    assert!(!html.contains("<script") && !html.contains("\" onload=\""), "{html}");
    assert!(html.contains("&lt;script&gt;"), "the name is shown as a name");
    let text = comparison::table(Look::PIPE, &found);
    for text in [html, text] {
        assert!(!text.contains('\u{7}') && !text.contains('\u{202e}') && !text.contains('\u{1b}'));
    }
}

#[test]
fn the_same_reviews_give_the_same_comparison() {
    let text = || {
        let found = compared(&evening(), &with_low_voice());
        (comparison::json(&found), page::comparison(&found))
    };
    assert_eq!(text(), text());
    let json: serde_json::Value = serde_json::from_str(&text().0).unwrap();
    assert_eq!(json["schema"], "deskside-comparison/1");
    assert_eq!(json["moved"][0]["unit"], "dBFS", "a unit stands beside the numbers");
}
