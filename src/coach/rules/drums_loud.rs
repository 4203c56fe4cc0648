//! Cymbals dominate the vocal microphones.
//!
//! Looks at what solo voices' microphones hear of the kit above 5.6 kHz. Never counts S sounds or a shaker: only what follows a microphone of the kit.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::coach::spill::{self, Spill};
use crate::reading::{Channel, Reading};
use crate::session::{Role, Tap};
use crate::unit::{Fact, Unit};

/// Microphones of the kit that stand for its cymbals.
const CYMBALS: &[Role] = &[Role::Overhead, Role::HiHat, Role::SnareTop, Role::SnareBottom];

pub(super) const RULE: Rule = Rule {
    id: "drums-loud",
    title: "Cymbals dominate the vocal microphones",
    group: Group::Source,
    tier: Tier::B,
    effect: 3,
    ease: 2,
    explains: &["mic-far", "cymbal-wash", "overheads-high"],
    measures: "Level above 5.6 kHz of overheads, hi-hat and snare together in a vocal microphone, minus the voice's own level above 5.6 kHz there.",
    limbs: &[Limb {
        name: "cymbal spill",
        unit: Unit::Db,
        windows: &[Window::at_most(-12.0, -4.0, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Raw],
    guards: spill::GUARDS,
    guard_text: "20 s of the voice; spill of the kit that passed every check, so that S sounds and a shaker do not count.",
    absent: "no spill from a drum kit into a vocal microphone was found",
    heard: "{who} {is} full of cymbals",
    why: "Each open vocal microphone then works as a cymbal microphone: voices up means cymbals up.",
    advice: &[
        "Ask for lighter sticks, softer cymbal playing, or darker and thinner cymbals.",
        "Turn the singers so that their microphones do not look at the kit.",
        "Bring mouth and microphone together: a hand width or less.",
        "Keep the overheads low or out of the mix: the cymbals are there already.",
        "Close the vocal microphones that nobody uses.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Spectrum of the vocal microphone in pauses over that of the overheads, with excerpts.",
    fooled_by: "a shaker or tambourine played together with the cymbals",
    other_causes: "a singer far from the microphone, or a kit right behind the voices",
    question: "What is left of the cymbals in the hall when all vocal microphones are closed?",
    exercise: "Close the vocal microphones one by one while the drummer plays and listen to the cymbals, 3 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let voices = reading.with_role(pick::SOLO_VOICES);
    voices
        .filter(|voice| !voice.is_line && voice.tap == Tap::Raw)
        .filter_map(|voice| observed(reading, voice))
        .collect()
}

fn observed(reading: &Reading, voice: &Channel) -> Option<Observation> {
    let mut kit: Vec<Spill<'_>> = spill::raw(reading)
        .filter(|spill| spill.mic.id == voice.id && CYMBALS.contains(&spill.source.role))
        .collect();
    // The loudest is the place to listen to.
    kit.sort_by(|one, other| {
        let level_db =
            |spill: &Spill<'_>| spill.pair.treble_bleed_db.value().unwrap_or(f64::NEG_INFINITY);
        level_db(other).total_cmp(&level_db(one))
    });
    let levels: Vec<&Fact> = kit.iter().map(|spill| &spill.pair.treble_bleed_db).collect();
    (!kit.is_empty()).then(|| Observation {
        also: kit.iter().map(|spill| spill.source.id.clone()).collect(),
        evidence: spill::evidence(&kit[..1]),
        ..pick::by_role(voice, vec![Some(spill::sum(&levels))])
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, judged, only, spill};
    use crate::unit::Unmeasured;

    /// A lead voice that hears a source with this much treble.
    fn voice(role: Role, treble: Fact) -> Reading {
        let mut reading = spill(channel(7, role), channel(17, Role::LeadVocal), -9.0);
        reading.pairs[0].treble_bleed_db = treble;
        reading
    }

    #[test]
    fn fires_when_a_vocal_microphone_hears_cymbals_close_to_its_voice() {
        assert_eq!(only(&RULE, &voice(Role::Overhead, Fact::sure(-11.9, 0.9))), Near, "over -12");
        assert_eq!(only(&RULE, &voice(Role::HiHat, Fact::sure(-3.9, 0.9))), Outside, "over -4");
    }

    #[test]
    fn fires_on_the_sum_of_the_kit() {
        let mut reading = voice(Role::Overhead, Fact::sure(-14.0, 0.9));
        let hat = voice(Role::HiHat, Fact::sure(-14.0, 0.9));
        reading.channels.push(channel(4, Role::HiHat));
        reading
            .pairs
            .push(crate::reading::Pair { source: "ch04".to_owned(), ..hat.pairs[0].clone() });
        assert_eq!(only(&RULE, &reading), Near, "-14 twice is -11 dB");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &voice(Role::Overhead, Fact::sure(-12.0, 0.9))), OnTarget, "inside");
        let bound = Fact::AtMost { at_most: -12.0, confidence: 0.9 };
        assert_eq!(only(&RULE, &voice(Role::Overhead, bound)), OnTarget, "all of it lies inside");
    }

    #[test]
    fn is_not_fooled_by_a_shaker_beside_the_singer() {
        let reading = voice(Role::Percussion, Fact::sure(-2.0, 0.9));
        assert!(judged(&RULE, &reading).is_empty(), "it is no cymbal of the kit");
    }

    #[test]
    fn is_not_fooled_by_an_unsure_or_half_known_level() {
        for open in [
            Fact::sure(-2.0, 0.5),
            Fact::AtMost { at_most: -2.0, confidence: 0.9 },
            Fact::missing(Unmeasured::NeverActive),
        ] {
            let outcome = only(&RULE, &voice(Role::Overhead, open.clone()));
            assert!(matches!(outcome, NotJudged(_)), "{open:?} gave {outcome:?}");
        }
    }
}
