//! What the team says of notes, and what becomes of it.

use deskside::coach::{Advice, Aims, Mark, Marks, Options, Verdict, coach};
use deskside::reading::Reading;
use deskside::session::Role;
use deskside::unit::Fact;

use super::rules;
use crate::support::readings::{channel, session};

/// Two voices whose gain is too low.
fn low_voices() -> Reading {
    let voices = [(17, "LV"), (18, "BV 1")].map(|(number, name)| {
        let mut voice = channel(number, Role::LeadVocal);
        voice.name = name.to_owned();
        voice.loud_level_dbfs = Fact::exact(-36.0);
        voice
    });
    session(voices.to_vec())
}

fn mark(channels: &[&str], mark: Verdict) -> Mark {
    Mark {
        rule: "gain-too-low".to_owned(),
        channels: channels.iter().map(|name| (*name).to_owned()).collect(),
        mark,
        comment: String::new(),
    }
}

fn advise(reading: &Reading, marks: &[Mark]) -> Advice {
    let mut all = Marks::default();
    marks.iter().for_each(|mark| all.set(mark.clone()));
    coach(reading, &Aims::default().with_marks(all), &Options::default())
}

#[test]
fn what_is_on_purpose_or_not_ours_is_not_shown_again_for_that_channel() {
    let reading = low_voices();
    let plain = advise(&reading, &[]);
    assert_eq!(plain.notes[0].channels, ["ch17", "ch18"], "both fire");
    for (said, why) in [(Verdict::OnPurpose, "on purpose"), (Verdict::NotOurs, "not ours")] {
        let advice = advise(&reading, &[mark(&["lv"], said)]);
        assert_eq!(advice.notes[0].channels, ["ch18"], "{why}: the other channel stays");
        let hidden: Vec<_> =
            advice.hidden.iter().map(|one| (one.rule, one.channels.clone(), one.why)).collect();
        assert_eq!(hidden, [("gain-too-low", vec!["ch17".to_owned()], why)]);
    }
    let advice = advise(&reading, &[mark(&["LV", "BV 1"], Verdict::NotOurs)]);
    assert!(advice.notes.is_empty() && advice.mentor.is_empty(), "{:?}", rules(&advice.notes));
    assert_eq!(advice.hidden.len(), 2, "each channel is counted");
}

#[test]
fn what_fits_or_does_not_fit_is_shown_again() {
    for said in [Verdict::Fits, Verdict::DoesNotFit] {
        let advice = advise(&low_voices(), &[mark(&["LV", "BV 1"], said)]);
        assert_eq!(rules(&advice.notes), ["gain-too-low"], "{said:?}");
        assert!(advice.hidden.is_empty(), "{said:?}");
    }
}

#[test]
fn channels_of_one_name_are_marked_by_their_ids() {
    let mut reading = low_voices();
    reading.channels.iter_mut().for_each(|channel| channel.name = "Vox".to_owned());
    let advice = advise(&reading, &[]);
    assert_eq!(advice.notes[0].names(&reading), ["ch17", "ch18"]);
    let advice = advise(&reading, &[mark(&["ch18"], Verdict::OnPurpose)]);
    assert_eq!(advice.notes[0].channels, ["ch17"]);
}

#[test]
fn a_rule_that_often_does_not_fit_goes_down_a_tier() {
    // Eight of ten are taken as right before any mark: 7 right of 10 make 15 of 20, below 0.8; 8 make 16 of 20, which is not below.
    let said = |n_right: usize| -> Vec<Mark> {
        let names: Vec<String> = (0..10).map(|number| format!("evening {number}")).collect();
        let verdict = |at: usize| if at < n_right { Verdict::Fits } else { Verdict::DoesNotFit };
        names.iter().enumerate().map(|(at, name)| mark(&[name], verdict(at))).collect()
    };
    let mut reading = low_voices();
    // Tier A shows from a confidence of 0.7, tier B from 0.8.
    for channel in &mut reading.channels {
        channel.active_confidence = 0.75;
    }
    let kept = advise(&reading, &said(8));
    assert_eq!((rules(&kept.notes), kept.demoted.len()), (vec!["gain-too-low"], 0));
    let demoted = advise(&reading, &said(7));
    assert!(demoted.notes.is_empty(), "{:?}", rules(&demoted.notes));
    assert_eq!(demoted.demoted, ["gain-too-low"]);
    let few = advise(&reading, &said(0)[..9]);
    assert!(few.demoted.is_empty(), "nine marks are too few to tell");
}

#[test]
fn a_later_mark_takes_the_place_of_an_earlier_one() {
    let mut marks = Marks::default();
    marks.set(mark(&["LV", "BV 1"], Verdict::Fits));
    marks.set(mark(&["bv 1", "lv"], Verdict::NotOurs));
    let names = ["LV".to_owned(), "BV 1".to_owned()];
    assert_eq!(marks.find("gain-too-low", &names).map(|mark| mark.mark), Some(Verdict::NotOurs));
    assert_eq!(marks.to_json().matches("\"mark\"").count(), 1, "{}", marks.to_json());
}

#[test]
fn marks_are_read_as_they_were_written() {
    let mut marks = Marks::default();
    marks.set(Mark {
        comment: "a </script> \"quoted\"\nword".to_owned(),
        ..mark(&["LV"], Verdict::Fits)
    });
    assert_eq!(Marks::parse(&marks.to_json()), Ok(marks));
}

#[test]
fn files_that_are_no_marks_are_refused_in_a_sentence() {
    let cases = [
        ("[]", "invalid"),
        ("{\"schema\":\"deskside-marks/1\",\"marks\":[],\"more\":1}", "unknown field `more`"),
        ("{\"schema\":\"deskside-marks/9\",\"marks\":[]}", "deskside-marks/9"),
        (
            "{\"schema\":\"deskside-marks/1\",\"marks\":[{\"rule\":\"gain-too-lo\",\"mark\":\"fits\"}]}",
            "no rule `gain-too-lo`",
        ),
        (
            "{\"schema\":\"deskside-marks/1\",\"marks\":[{\"rule\":\"mud\",\"mark\":\"wrong\"}]}",
            "unknown variant `wrong`",
        ),
    ];
    for (text, words) in cases {
        let error = Marks::parse(text).expect_err(text).to_string();
        assert!(error.contains(words), "`{words}` in: {error}");
    }
}
