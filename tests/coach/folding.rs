//! Tests of causes and effects: an effect stands inside the note of its cause, for the reader who sees that cause.

use deskside::reading::Events;
use deskside::session::Role;
use deskside::unit::Fact;

use super::{advise, rules};
use crate::support::readings::{channel, session};

#[test]
fn gain_folds_the_flat_tops_of_its_own_channel_only() {
    let mut hot = channel(17, Role::LeadVocal);
    hot.top_peak_dbfs = Fact::exact(-0.1);
    hot.flat_tops = Events { count: 9, at_s: vec![200.0] };
    let mut square = channel(9, Role::Percussion);
    square.flat_tops = Events { count: 1, at_s: vec![120.0] };
    square.top_peak_dbfs = Fact::exact(-7.0);
    // A drum with flat tops below -6 dBFS: too hot by its flat tops as well, so its own cause folds it.
    let advice = advise(&session(vec![hot, square]));
    let gain =
        advice.notes.iter().find(|note| note.rule.id == "gain-too-hot").expect("gain is a note");
    let folded: Vec<_> = gain.folds.iter().map(|fold| (fold.rule, fold.channels.clone())).collect();
    assert!(
        folded.contains(&("clip-input", vec!["ch17".to_owned(), "ch09".to_owned()])),
        "found {folded:?}"
    );
    assert!(!rules(&advice.notes).contains(&"clip-input"), "the effect is no note of its own");
}

#[test]
fn an_effect_on_another_channel_stays_a_note() {
    let mut hot = channel(17, Role::LeadVocal);
    hot.loud_level_dbfs = Fact::exact(-9.0);
    let mut thin = channel(18, Role::BackingVocal);
    thin.top_peak_dbfs = Fact::exact(-5.0);
    thin.role_confidence = 0.6;
    let advice = advise(&session(vec![hot, thin]));
    assert!(
        rules(&advice.notes).contains(&"headroom-thin"),
        "the cause is not sure on that channel"
    );
}

#[test]
fn a_hum_with_safety_wording_folds_the_noise_for_everybody() {
    let mut keys = channel(13, Role::Keys);
    keys.hum.level_db = Fact::exact(-38.0);
    keys.quiet_level_above_200_hz_dbfs = Fact::exact(-55.0);
    let advice = advise(&session(vec![keys]));
    assert!(
        advice.notes.is_empty(),
        "noise and weak source are effects: {:?}",
        rules(&advice.notes)
    );
    assert_eq!(rules(&advice.lead)[0], "hum-buzz", "hum is the lead's");
    let folded: Vec<_> = advice.lead[0].folds.iter().map(|fold| fold.rule).collect();
    assert_eq!(advice.safety_lines.len(), 1, "a line input that hums gets the safety wording");
    let all: Vec<_> = advice.folded.iter().map(|fold| (fold.rule, fold.into)).collect();
    assert!(all.contains(&("hiss-floor", "hum-buzz")), "found {all:?}");
    assert!(all.contains(&("di-low", "hum-buzz")), "found {all:?}");
    assert!(folded.contains(&"hiss-floor"), "found {folded:?}");
}

#[test]
fn a_cause_that_only_the_mentor_sees_hides_nothing_from_the_trainee() {
    // A noisy voice microphone is for the mentor; a low gain explains it there.
    let mut voice = channel(17, Role::LeadVocal);
    voice.loud_level_dbfs = Fact::exact(-40.0);
    voice.own_to_spill_db = Fact::exact(7.0);
    let others = [18, 19].map(|number| channel(number, Role::BackingVocal));
    let advice = advise(&session([vec![voice], others.to_vec()].concat()));
    assert!(rules(&advice.mentor).contains(&"mic-far"), "distance goes to the mentor");
    assert!(rules(&advice.notes).contains(&"gain-too-low"), "gain stays the trainee's");
}

#[test]
fn chains_end_at_the_first_cause() {
    // hum-buzz explains di-low, di-low explains gain-too-low.
    let mut keys = channel(13, Role::Keys);
    keys.hum.level_db = Fact::exact(-20.0);
    keys.loud_level_dbfs = Fact::exact(-40.0);
    let advice = advise(&session(vec![keys]));
    let low =
        advice.folded.iter().find(|fold| fold.rule == "gain-too-low").expect("gain is folded");
    assert_eq!(low.into, "hum-buzz", "the end of the chain");
}
