//! Microphone too far from the voice.
//!
//! Looks at own-to-spill of the solo voices, compared with each other. Never speaks where half the vocal microphones hear much of the band.

use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::coach::{pick, spill};
use crate::reading::{Channel, Reading};
use crate::session::Tap;
use crate::unit::Unit;

/// Own-to-spill on target, in dB.
const GREEN_DB: f64 = 12.0;
/// Distance to the other vocal microphones that speaks of distance: halving it gives about 6 dB.
const WORSE_DB: f64 = 6.0;

const LOUD_BAND: &str =
    "the vocal microphones hear much of the band, so distance is not the first suspect";

pub(super) const RULE: Rule = Rule {
    id: "mic-far",
    title: "Microphone too far from the voice",
    group: Group::Microphone,
    tier: Tier::B,
    effect: 4,
    ease: 1,
    explains: &["thin", "comp-heavy", "ring-near", "voice-buried", "spill-neighbour"],
    measures: "Median level while the person sings or speaks, minus the median level in that person's pauses while others play.",
    limbs: &[Limb {
        name: "own-to-spill",
        unit: Unit::Db,
        windows: &[Window::at_least(
            GREEN_DB,
            6.0,
            Source::Computed(
                "common practice; halving the distance gives about 6 dB (inverse-square law)",
            ),
        )],
    }],
    combine: Combine::Worst,
    needs: &[Need::Raw],
    guards: Guards::USUAL,
    guard_text: "20 s of the voice and of its pauses; at least 6 dB worse than the other vocal microphones; silent where half of them or more are low.",
    absent: "no voice was recorded with a microphone",
    heard: "{who} {is} further from the mouth than others",
    why: "A distant microphone hears the band almost as loud as the singer.",
    advice: &[
        "Bring mouth and microphone together: a hand width or less.",
        "Point the microphone at the mouth, not at chin or ceiling.",
        "Lower the wedge or the band near that microphone.",
        "Raise the gain only after that.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Level trace with singing and pauses shaded, and the two times where it is worst.",
    fooled_by: "a quiet verse, a step back for a loud note, or two people on one microphone",
    other_causes: "a loud band, a wedge close by, or a microphone that points away",
    question: "How far was the mouth from the microphone at this place?",
    exercise: "Sing one verse at four, two and one hand widths and listen to the pauses, 5 minutes.",
    praise: None,
    page: Page::Mentor,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let voices: Vec<&Channel> = reading
        .with_role(pick::SOLO_VOICES)
        .filter(|voice| !voice.is_line && voice.tap == Tap::Raw)
        .collect();
    let levels: Vec<f64> =
        voices.iter().filter_map(|voice| voice.own_to_spill_db.value()).collect();
    let n_low = levels.iter().filter(|level| **level < GREEN_DB).count();
    voices
        .iter()
        .map(|voice| {
            let own = voice.own_to_spill_db.value();
            let others = median_of_others(&voices, voice);
            let is_worse = own.zip(others).is_some_and(|(own, others)| own <= others - WORSE_DB);
            Observation {
                detail: spill::loudest_named(reading, voice),
                ..pick::by_role(voice, vec![Some(voice.own_to_spill_db.clone())])
            }
            .doubted(levels.len() < 2, "there is no other vocal microphone to compare with")
            .doubted(n_low * 2 >= levels.len(), LOUD_BAND)
            .doubted(!is_worse, "it is not clearly worse than the other vocal microphones")
        })
        .collect()
}

fn median_of_others(voices: &[&Channel], voice: &Channel) -> Option<f64> {
    let others = voices.iter().filter(|other| other.id != voice.id);
    let mut levels: Vec<f64> = others.filter_map(|other| other.own_to_spill_db.value()).collect();
    levels.sort_by(f64::total_cmp);
    levels.get(levels.len() / 2).copied()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, judged, only, session, spilled};
    use crate::session::Role;
    use crate::unit::Fact;

    /// Outcome of the first of three voices with these figures.
    fn outcome(levels_db: [f64; 3]) -> Outcome {
        let voices = levels_db.iter().enumerate().map(|(idx, level_db)| {
            let mut voice = channel(idx + 1, Role::BackingVocal);
            voice.own_to_spill_db = Fact::exact(*level_db);
            voice
        });
        only(&RULE, &session(voices.collect()))
    }

    #[test]
    fn fires_when_one_voice_is_6_db_worse_than_the_others() {
        assert_eq!(outcome([11.9, 18.0, 18.0]), Near, "just under 12 dB and clearly worse");
        assert_eq!(outcome([5.9, 18.0, 18.0]), Outside, "under 6 dB");
    }

    #[test]
    fn fires_and_names_what_the_microphone_hears_most() {
        let mut far = channel(17, Role::LeadVocal);
        far.own_to_spill_db = Fact::exact(8.0);
        let others = [18, 19].map(|number| channel(number, Role::BackingVocal));
        let kick = channel(1, Role::Kick);
        let pairs = vec![spilled(&kick, &far, -9.0), spilled(&others[0], &far, -15.0)];
        let reading = Reading { pairs, ..session([vec![far, kick], others.to_vec()].concat()) };
        let judgement = &judged(&RULE, &reading)[0];
        assert_eq!(judgement.outcome, Near, "under 12 dB");
        assert_eq!(judgement.observation.detail.as_deref(), Some("Loudest neighbour: kick 1."),);
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(outcome([12.0, 18.0, 18.0]), OnTarget, "12 dB is inside");
    }

    #[test]
    fn is_not_fooled_by_a_loud_band_in_every_microphone() {
        assert!(matches!(outcome([4.0, 11.0, 18.0]), NotJudged(_)), "two of three are low");
        assert!(
            matches!(outcome([11.0, 13.0, 14.0]), NotJudged(_)),
            "hardly worse than the others"
        );
    }
}
