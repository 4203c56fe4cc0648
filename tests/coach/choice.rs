//! Tests of the choice of notes, the strength, the focus and the pages.

use deskside::coach::{Advice, Aims, Held, NoteLimit, Options, Past, coach};
use deskside::reading::{Events, Reading};
use deskside::session::{Role, Tap};
use deskside::unit::{Fact, Span};

use super::{advise, rules};
use crate::support::readings::{channel, main_mix, pair, session, song, with_main, with_pair};

/// A session with faults in six groups: gain (three), microphone, dynamics, loudness, recording.
fn troubled() -> Reading {
    let mut low = channel(17, Role::LeadVocal);
    low.loud_level_dbfs = Fact::exact(-40.0);
    let mut hot = channel(12, Role::ElectricGuitar);
    hot.loud_level_dbfs = Fact::exact(-9.0);
    let mut clipped = channel(2, Role::SnareTop);
    clipped.flat_tops = Events { count: 9, at_s: vec![130.0] };
    clipped.role_confidence = 0.6;
    let mut popping = channel(18, Role::BackingVocal);
    popping.pops = Events { count: 60, at_s: vec![140.0] };
    let mut bass = channel(10, Role::Bass);
    bass.note_spread_db = Fact::exact(12.0);
    bass.dc_dbfs = Fact::exact(-30.0);
    let mut main = main_mix();
    main.speech_vs_song_lu = Fact::exact(-20.0);
    let mut reading = with_main(main);
    reading.channels.splice(0..0, [clipped, bass, hot, low, popping]);
    reading
}

fn with_limit(reading: &Reading, notes: NoteLimit) -> Advice {
    coach(reading, &Aims::default(), &Options { notes, ..Options::default() })
}

#[test]
fn a_healthy_session_has_no_note_and_names_a_strength() {
    let voices = [17, 18, 19].map(|number| channel(number, Role::LeadVocal));
    let mut reading = session(voices.to_vec());
    reading.session.line_check_before_recording = Some(true);
    let advice = advise(&reading);
    assert!(advice.notes.is_empty(), "found {:?}", rules(&advice.notes));
    assert_eq!(advice.focus.map(|focus| focus.rule), None, "nothing to practise");
    assert_eq!(advice.strengths.len(), 1, "one strength");
    assert_eq!(
        advice.strengths[0].sentence,
        "00:00 to 10:00. No flat tops on the inputs that could be judged: 3."
    );
}

#[test]
fn three_notes_by_default_and_two_a_group() {
    let advice = advise(&troubled());
    assert_eq!(advice.notes.len(), 3, "found {:?}", rules(&advice.notes));
    let n_gain =
        advice.notes.iter().filter(|note| note.group == deskside::coach::Group::Gain).count();
    assert_eq!(n_gain, 2, "three findings about gain, two notes");
    let held: Vec<_> =
        advice.mentor.iter().filter(|note| note.held == Some(Held::NoRoom)).collect();
    assert!(!held.is_empty(), "the rest goes to the mentor");
}

#[test]
fn never_more_than_five_but_all_on_request() {
    let five = with_limit(&troubled(), NoteLimit::AtMost(40)).notes.len();
    assert_eq!(five, 5, "five are the most");
    let all = with_limit(&troubled(), NoteLimit::All);
    assert!(all.notes.len() > five, "found {:?}", rules(&all.notes));
    assert!(
        all.mentor.iter().all(|note| note.held != Some(Held::NoRoom)),
        "nothing is left for lack of room"
    );
}

#[test]
fn the_heaviest_note_comes_first_and_is_the_focus() {
    let advice = advise(&troubled());
    // Effect 4 x outside x confidence 1: flat tops weigh more than effect 3 and 2.
    assert_eq!(advice.notes[0].rule.id, "clip-input", "found {:?}", rules(&advice.notes));
    let focus = advice.focus.expect("there is a focus");
    assert_eq!(focus.rule, "clip-input", "the first note is practised");
    assert_eq!(focus.noticed, "flat tops at none", "and how it will be noticed");
}

#[test]
fn findings_of_the_lead_use_no_slot() {
    let advice = with_limit(&troubled(), NoteLimit::All);
    assert!(rules(&advice.lead).contains(&"dc-shift"), "offset is gear");
    assert!(!rules(&advice.notes).contains(&"dc-shift"), "and no note for the trainee");
}

#[test]
fn the_same_rule_on_several_channels_is_one_note() {
    let voices = [17, 18, 19].map(|number| {
        let mut voice = channel(number, Role::LeadVocal);
        voice.loud_level_dbfs = Fact::exact(-30.0 - number as f64 / 10.0);
        voice
    });
    let advice = advise(&session(voices.to_vec()));
    let note = advice.notes.iter().find(|note| note.rule.id == "gain-too-low").expect("a note");
    assert_eq!(note.channels, ["ch19", "ch18", "ch17"], "furthest off first");
    assert_eq!(note.measured.len(), 3, "one number a channel");
    assert!(
        note.sentence.contains(
            "are low at the input: loud level -32 dBFS on lead vocal 19, target -24 dBFS or more."
        ),
        "found {}",
        note.sentence
    );
}

#[test]
fn at_most_two_notes_speak_of_one_channel() {
    let mut busy = channel(17, Role::LeadVocal);
    busy.loud_level_dbfs = Fact::exact(-40.0);
    busy.pops = Events { count: 60, at_s: vec![130.0] };
    busy.spectrum.band_db[3] = Fact::exact(0.0);
    busy.spectrum.band_db[5] = Fact::exact(-30.0);
    busy.spectrum.band_db[6] = Fact::exact(-30.0);
    let advice = advise(&session(vec![busy]));
    assert_eq!(
        rules(&advice.notes),
        ["gain-too-low", "close-boom"],
        "blasts are the third on this channel"
    );
    assert!(rules(&advice.mentor).contains(&"pop-blasts"), "the mentor has it");
}

#[test]
fn a_new_operator_starts_with_the_starter_set() {
    let mut reading = troubled();
    reading.session.operator = Some("wren".to_owned());
    let advice = advise(&reading);
    let starters = ["gain-too-low", "gain-too-hot", "clip-input"];
    assert!(
        rules(&advice.notes).iter().all(|rule| starters.contains(rule)),
        "found {:?}",
        rules(&advice.notes)
    );
    let held =
        advice.mentor.iter().find(|note| note.rule.id == "pop-blasts").expect("the mentor has it");
    assert_eq!(held.held, Some(Held::NotStarter), "and why");
    let past = Past { n_sessions: 6, ..Past::default() };
    let options = Options { notes: NoteLimit::All, past };
    let later = coach(&reading, &Aims::default(), &options);
    assert!(rules(&later.notes).contains(&"pop-blasts"), "after six sessions all rules count");
}

#[test]
fn a_cause_that_is_kept_for_later_does_not_take_its_effects_along() {
    let mut bass = channel(10, Role::Bass);
    (bass.is_line, bass.loud_level_dbfs) = (true, Fact::exact(-40.0));
    let mut reading = session(vec![bass]);
    let advice = advise(&reading);
    assert_eq!(rules(&advice.notes), ["di-low"], "a weak source explains a low gain");
    // `di-low` is not among what is learnt first, `gain-too-low` is.
    reading.session.operator = Some("wren".to_owned());
    let advice = advise(&reading);
    assert_eq!(rules(&advice.notes), ["gain-too-low"], "said by itself");
    assert!(rules(&advice.mentor).contains(&"di-low"), "the mentor has the cause");
}

#[test]
fn hints_from_raw_tracks_stay_with_the_mentor() {
    let mut voice = channel(17, Role::LeadVocal);
    voice.spectrum.below_corner_db = Fact::exact(-10.0);
    let advice = advise(&session(vec![voice.clone()]));
    assert!(advice.notes.is_empty(), "found {:?}", rules(&advice.notes));
    let note =
        advice.mentor.iter().find(|note| note.rule.id == "hpf-missing").expect("the mentor has it");
    assert!(
        note.sentence.ends_with("Recorded before the high-pass: a check, not a finding."),
        "found {}",
        note.sentence
    );
    voice.tap = Tap::Processed;
    assert!(
        rules(&advise(&session(vec![voice])).notes).contains(&"hpf-missing"),
        "a processed track is a verdict"
    );
}

#[test]
fn a_complete_line_check_is_the_strength_before_all_others() {
    let mut evening = session((1..=24).map(|number| channel(number, Role::Keys)).collect());
    evening.line_check.heard_percent = Fact::sure(100.0, 0.9);
    evening.line_check.n_heard = 24;
    evening.line_check.missing = Vec::new();
    evening.line_check.evidence = vec![Span::new(15.0, 86.0)];
    let advice = advise(&evening);
    assert_eq!(
        advice.strengths[0].sentence,
        "00:15 to 01:26. All 24 inputs were heard alone before the first song."
    );
}

#[test]
fn what_was_not_judged_is_listed_with_its_reason() {
    let advice = advise(&session(vec![channel(17, Role::LeadVocal)]));
    let reason = |rule: &str| {
        let silence = advice.not_judged.iter().find(|silence| silence.rules.contains(&rule));
        silence.map(|silence| silence.reason.as_str())
    };
    assert_eq!(reason("clip-main"), Some("the main mix was not recorded"));
    assert_eq!(reason("pair-polarity"), Some("no source was recorded on two channels"));
    assert_eq!(reason("cue-late"), Some("the main mix was not recorded"));
    assert_eq!(
        reason("tone-ring"),
        Some("a body that rings has to be told from the notes that all songs share"),
        "a rule that is not judged yet"
    );
    let listed = advice.not_judged.iter().map(|silence| silence.rules.len()).sum::<usize>();
    let judged: std::collections::BTreeSet<&str> =
        advice.judgements.iter().map(|judgement| judgement.rule.id).collect();
    assert!(
        listed + judged.len() >= 89,
        "every rule is judged or listed: {listed} and {}",
        judged.len()
    );
    assert!(advice.not_judged.len() < 40, "and the list stays short: {}", advice.not_judged.len());
}

#[test]
fn songs_and_pairs_reach_their_rules() {
    let mut main = main_mix();
    main.songs = ["Brambles", "Lamps"].map(|title| song(title, 100.0)).to_vec();
    for song in &mut main.songs {
        song.mono_fold_lu = Fact::exact(-7.0);
    }
    assert_eq!(rules(&advise(&with_main(main)).notes), ["mono-fold"], "both songs fold");
    let (top, bottom) = (channel(2, Role::SnareTop), channel(3, Role::SnareBottom));
    let mut both = pair(&top, &bottom, deskside::reading::Kinship::SameSource);
    both.body_correlation = Fact::exact(-0.8);
    let advice = advise(&with_pair(top, bottom, both));
    assert_eq!(rules(&advice.notes), ["pair-polarity"], "a check for the trainee");
    assert!(advice.notes[0].is_check, "and no finding");
}
