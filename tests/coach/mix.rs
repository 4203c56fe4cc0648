//! Notes that rest on what the operator did with the mix.

use deskside::reading::{Reading, TakenOver};
use deskside::session::Role;
use deskside::unit::{Fact, Span};

use super::{advise, rules};
use crate::support::readings::{backing, channel, mixed, session, solo};

/// A lead voice under the band, and a guitar over the voice, in the second song.
fn buried() -> Reading {
    let mut reading = mixed(vec![channel(12, Role::ElectricGuitar), channel(17, Role::LeadVocal)]);
    let lead = &mut reading.mix.as_mut().unwrap().songs[1].leads[0];
    lead.over_rest_lu = Fact::sure(-6.0, 0.9);
    lead.buried_percent = Fact::sure(70.0, 0.9);
    lead.audibility_index = Fact::sure(0.2, 0.9);
    lead.taken_over = vec![TakenOver {
        channel: "ch12".to_owned(),
        share_percent: Fact::sure(40.0, 0.9),
        over_voice_lu: Fact::sure(5.0, 0.9),
        evidence: vec![Span::new(300.0, 310.0)],
    }];
    reading
}

#[test]
fn a_healthy_mix_has_no_note() {
    for reading in [
        mixed(vec![channel(17, Role::LeadVocal), channel(21, Role::Speech)]),
        backing(&[-6.0, -7.0], -4.0),
        solo(0.0, 3.0, true),
    ] {
        let advice = advise(&reading);
        assert!(advice.notes.is_empty(), "{:?}", rules(&advice.notes));
    }
}

#[test]
fn a_buried_voice_is_one_note_with_what_follows_from_it() {
    let advice = advise(&buried());
    assert_eq!(rules(&advice.notes), ["voice-buried"], "one note");
    let note = &advice.notes[0];
    assert!(note.sentence.contains("Copper Kettle Weather"), "{}", note.sentence);
    let folded: Vec<&str> = note.folds.iter().map(|fold| fold.rule).collect();
    assert!(folded.contains(&"voice-masked") && folded.contains(&"lead-taken-over"), "{folded:?}");
}

#[test]
fn a_gain_that_is_too_low_explains_a_voice_that_was_not_lifted() {
    let low = |gains_db: [f64; 2]| {
        let mut reading = buried();
        reading.channels[1].loud_level_dbfs = Fact::exact(-40.0);
        for (song, gain_db) in reading.mix.as_mut().unwrap().songs.iter_mut().zip(gains_db) {
            song.leads[0].gain_db = Fact::sure(gain_db, 0.9);
        }
        let advice = advise(&reading);
        advice.notes.iter().any(|note| note.rule.id == "voice-buried")
    };
    assert!(!low([3.0, 3.0]), "the gain is the cause");
    assert!(
        low([3.0, 13.0]),
        "the fader made up for the gain, and the voice is buried all the same"
    );
}

#[test]
fn without_a_mix_nothing_is_judged_that_needs_it() {
    let advice = advise(&session(vec![channel(17, Role::LeadVocal), channel(21, Role::Speech)]));
    for rule in ["cue-late", "voice-buried", "open-mics", "left-out"] {
        let reason = advice.not_judged.iter().find(|one| one.rules.contains(&rule));
        assert!(reason.is_some(), "{rule} is listed with its reason");
    }
}
