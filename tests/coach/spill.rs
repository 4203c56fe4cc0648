//! Tests of what spill between microphones leads to: who sees it, in which words, and what it explains.

use deskside::coach::{Held, Note, RULES};
use deskside::reading::{Channel, Kinship, Pair, Reading};
use deskside::session::{Role, Tap};
use deskside::unit::Fact;

use super::{advise, rules};
use crate::support::readings::{channel, pair, session, spill, spilled};

/// More words than this are not read at the desk.
const MAX_WORDS: usize = 60;

/// The rules that rest on spill between two channels.
const OF_SPILL: [&str; 5] =
    ["drums-loud", "amp-loud", "spill-neighbour", "choir-overlap", "overheads-uneven"];

fn called(number: usize, name: &str, role: Role) -> Channel {
    Channel { name: name.to_owned(), ..channel(number, role) }
}

/// A pair of spill whose numbers are this sure.
fn heard(source: &Channel, mic: &Channel, bleed_db: f64, confidence: f64) -> Pair {
    let mut pair = spilled(source, mic, bleed_db);
    for fact in [&mut pair.bleed_db, &mut pair.treble_bleed_db, &mut pair.transfer_db] {
        *fact = Fact::sure(bleed_db, confidence);
    }
    pair
}

/// A loud guitar amplifier, a loud kit, two singers close together, two choir microphones alike, and uneven overheads.
fn crowded(confidence: f64) -> Reading {
    let snare = called(2, "Sn Top", Role::SnareTop);
    let overheads = [called(6, "OH L", Role::Overhead), called(7, "OH R", Role::Overhead)];
    let amp = called(11, "EG", Role::ElectricGuitar);
    let voices = [called(17, "LV", Role::LeadVocal), called(18, "BV 1", Role::BackingVocal)];
    let mut choir = [called(24, "Choir L", Role::Choir), called(25, "Choir R", Role::Choir)];
    choir[0].own_to_spill_db = Fact::sure(3.0, 0.85);
    let mut pairs = Vec::new();
    for mic in voices.iter().chain(&choir) {
        pairs.push(heard(&amp, mic, -7.0, confidence));
    }
    for (overhead, later_s) in overheads.iter().zip([0.002, 0.004]) {
        let mut way = heard(&snare, overhead, -3.0, confidence);
        way.delay_s = Fact::sure(later_s, confidence);
        pairs.push(way);
        pairs.push(heard(overhead, &voices[0], -6.0, confidence));
    }
    pairs.push(heard(&voices[0], &voices[1], -4.0, confidence));
    let mut overlap = heard(&choir[0], &choir[1], -3.0, confidence);
    overlap.coherence = Fact::sure(0.5, confidence);
    pairs.push(overlap);
    let channels =
        [vec![snare], overheads.to_vec(), vec![amp], voices.to_vec(), choir.to_vec()].concat();
    Reading { pairs, ..session(channels) }
}

/// Every note of a review, whoever it is for.
fn all_notes(reading: &Reading) -> Vec<Note> {
    let advice = advise(reading);
    [advice.notes, advice.mentor, advice.lead].concat()
}

fn note<'a>(notes: &'a [Note], rule: &str) -> &'a Note {
    notes.iter().find(|note| note.rule.id == rule).unwrap_or_else(|| panic!("no note of {rule}"))
}

#[test]
fn a_crowded_stage_is_told_in_plain_words() {
    let notes = all_notes(&crowded(0.85));
    for (rule, sentence) in [
        (
            "drums-loud",
            "02:00 to 02:10. LV seems full of cymbals: cymbal spill -3 dB, target -12 dB or less.",
        ),
        (
            "amp-loud",
            "02:00 to 02:10. EG seems loud in most other microphones: median spill -7 dB, target -15 dB or less. Loudest in: LV, BV 1.",
        ),
        (
            "spill-neighbour",
            "02:00 to 02:10. LV and BV 1 seem close together: the other's voice -4 dB, target -9 dB or less. BV 1 hears LV.",
        ),
        (
            "choir-spill",
            "00:20 to 00:40. Choir L seems full of the band: own-to-spill 3 dB, target 6 dB or more. Loudest neighbour: EG.",
        ),
        (
            "choir-overlap",
            "02:00 to 02:10. Choir L and Choir R seem alike in what they hear: coherence 0.5, target 0.3 or less. Recorded before the fader: a check, not a finding.",
        ),
        (
            "overheads-uneven",
            "02:00 to 02:10. OH L and OH R seem uneven towards the snare: arrival apart 2.0 ms, target 0.5 ms or less. Recorded before the fader: a check, not a finding.",
        ),
    ] {
        assert_eq!(note(&notes, rule).sentence, sentence, "{rule}");
    }
    for note in notes {
        let text =
            format!("{} {} {} Sure: {}.", note.sentence, note.why, note.advice[0], note.sure);
        let n_words = text.split_whitespace().count();
        assert!(n_words <= MAX_WORDS, "{n_words} words: {text}");
    }
}

#[test]
fn an_ordinary_measurement_of_spill_bears_no_note() {
    let mut reading = crowded(0.5);
    reading.channels.iter_mut().for_each(|channel| channel.own_to_spill_db = Fact::exact(20.0));
    let notes = all_notes(&reading);
    let of_spill = rules(&notes).into_iter().filter(|rule| OF_SPILL.contains(rule));
    assert_eq!(of_spill.count(), 0, "0.5 is no strict verdict: {:?}", rules(&notes));
}

#[test]
fn a_strict_measurement_is_the_mentors_until_it_is_sure_enough_for_the_trainee() {
    let at = |confidence| {
        let (lead, backing) = (channel(17, Role::LeadVocal), channel(18, Role::BackingVocal));
        let mut reading = spill(lead, backing, -4.0);
        reading.pairs[0].bleed_db = Fact::sure(-4.0, confidence);
        reading
    };
    let strict = advise(&at(0.7));
    assert!(strict.notes.is_empty(), "tier B asks for 0.8: {:?}", rules(&strict.notes));
    assert_eq!(note(&strict.mentor, "spill-neighbour").held, Some(Held::Unsure));
    assert_eq!(rules(&advise(&at(0.8)).notes), ["spill-neighbour"], "0.8 is enough");
}

#[test]
fn a_loud_stage_explains_a_voice_that_seems_far() {
    let mut reading = crowded(0.95);
    let voice = |id: &str| id == "ch17";
    for channel in reading.channels.iter_mut().filter(|channel| voice(&channel.id)) {
        channel.own_to_spill_db = Fact::exact(8.0);
    }
    // A third voice, so that one low voice is clearly worse than the others.
    reading.channels.push(called(19, "BV 2", Role::BackingVocal));
    let advice = advise(&reading);
    let far = advice.folded.iter().find(|fold| fold.rule == "mic-far").expect("it is an effect");
    assert_eq!(far.into, "drums-loud", "the first cause in the order of fixing");
    assert_eq!(far.channels, ["ch17"], "on the voice's own channel");
    // Without the kit the amplifier explains it, though no sentence of its note names the voice as its subject.
    reading.channels.retain(|channel| channel.role != Role::Overhead);
    reading.channels.retain(|channel| channel.role != Role::SnareTop);
    let advice = advise(&reading);
    let far = advice.folded.iter().find(|fold| fold.rule == "mic-far").expect("it is an effect");
    assert_eq!(far.into, "amp-loud", "the second cause");
}

#[test]
fn rules_about_one_source_on_two_channels_leave_spill_alone() {
    let roles = [
        (Role::SnareTop, Role::SnareBottom),
        (Role::Bass, Role::Bass),
        (Role::Keys, Role::Keys),
        (Role::Playback, Role::Overhead),
    ];
    for (source, mic) in roles {
        let (source, mut mic) = (channel(2, source), channel(3, mic));
        mic.is_line = false;
        mic.tap = Tap::Processed;
        // Every number that those rules look at is there, and outside their targets.
        let mut opposed = pair(&source, &mic, Kinship::Spill);
        opposed.residual_db = Fact::exact(-60.0);
        opposed.correlation = Fact::exact(-0.9);
        opposed.inverted_percent = Fact::exact(100.0);
        opposed.body_correlation = Fact::exact(-0.9);
        opposed.polarity = Fact::exact(-1.0);
        opposed.delay_s = Fact::exact(0.005);
        let reading = Reading { pairs: vec![opposed], ..session(vec![source, mic]) };
        for id in ["pair-polarity", "pair-late", "stereo-flip", "twin-channel"] {
            let rule = RULES.iter().find(|rule| rule.id == id).expect("it is a rule");
            assert!((rule.observe)(&reading).is_empty(), "{id} took spill for a pair");
        }
    }
}
