//! Two microphones share one voice (3:1 spacing).
//!
//! Looks at what one voice's microphone hears of the voice beside it. Never judges two choir microphones, whose overlap is a rule of its own.

use crate::coach::rule::{
    Combine, Group, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::coach::spill::{self, Spill};
use crate::reading::Reading;
use crate::session::{Family, Role};
use crate::unit::Unit;

/// What arrives later than this came through a loudspeaker or from across the stage: 15 ms are 5 m (common practice).
const NEIGHBOUR_S: f64 = 0.015;

pub(super) const RULE: Rule = Rule {
    id: "spill-neighbour",
    title: "Two microphones share one voice (3:1 spacing)",
    group: Group::Microphone,
    tier: Tier::B,
    effect: 2,
    ease: 2,
    explains: &["comb-two-mics"],
    measures: "Level of one voice in the next voice's microphone minus the level of that microphone's own voice: what is left of it with both voices set equally loud.",
    limbs: &[Limb {
        name: "the other's voice",
        unit: Unit::Db,
        windows: &[Window::at_most(
            -9.0,
            -5.0,
            Source::Published(
                "3:1 distance rule, about 9 to 10 dB (Burroughs 1974 via handbooks, from memory; 20 lg 3 = 9.5 dB); at -9.5 dB the sum ripples by +2.5 and -3.5 dB (computed)",
            ),
        )],
    }],
    combine: Combine::Worst,
    needs: &[Need::Raw],
    guards: spill::GUARDS,
    guard_text: "20 s of both voices; spill that passed every check; the voice arrives later there, by 15 ms at most, so that a loudspeaker is no neighbour.",
    absent: "no voice was found in the microphone of another",
    heard: "{who} {is} close together",
    why: "A voice that arrives twice, slightly apart, sounds hollow.",
    advice: &[
        "Move the microphones apart: three times the distance from mouth to microphone.",
        "Bring each mouth closer to its microphone.",
        "Use one microphone for two who sing together.",
        "Close the microphone that is not in use.",
    ],
    backing: &[
        Source::Published("3:1 distance rule (Burroughs 1974 via handbooks, from memory)"),
        Source::CommonPractice,
    ],
    shows: "The pair, the lag, and the ripple of the sum.",
    fooled_by: "two who sing the same words at once, or a wedge that carries the voice",
    other_causes: "a singer far from the microphone, or a louder voice beside a soft one",
    question: "How far apart were the two microphones, and how far was each mouth?",
    exercise: "Sing into one of two open microphones, move the other away and listen for the hollow tone, 3 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let is_voice = |role: Role| role.family() == Family::Voice;
    spill::raw(reading)
        .filter(|spill| is_voice(spill.source.role) && is_voice(spill.mic.role))
        .filter(|spill| spill.source.role != Role::Choir || spill.mic.role != Role::Choir)
        .map(|spill| observed(&spill))
        .collect()
}

fn observed(spill: &Spill<'_>) -> Observation {
    let delay_s = spill::sure(&spill.pair.delay_s);
    let names = (&spill.source.name, &spill.mic.name);
    Observation {
        detail: Some(format!("{} hears {}.", names.1, names.0).into()),
        ..spill.observed(vec![Some(spill.pair.bleed_db.clone())])
    }
    .doubted(delay_s.is_none(), "the lag is not known, so a loudspeaker may carry the voice there")
    .doubted(
        delay_s.is_some_and(|delay_s| !(delay_s > 0.0 && delay_s <= NEIGHBOUR_S)),
        "the lag is not that of a neighbour: a loudspeaker may carry the voice there",
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, judged, only, spill};
    use crate::unit::Fact;

    fn outcome(bleed_db: f64, delay_s: f64) -> Outcome {
        let (lead, backing) = (channel(17, Role::LeadVocal), channel(18, Role::BackingVocal));
        let mut reading = spill(lead, backing, bleed_db);
        reading.pairs[0].delay_s = Fact::sure(delay_s, 0.9);
        only(&RULE, &reading)
    }

    #[test]
    fn fires_when_a_voice_is_loud_in_the_next_microphone() {
        assert_eq!(outcome(-8.9, 0.003), Near, "over -9");
        assert_eq!(outcome(-4.9, 0.003), Outside, "over -5");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(outcome(-9.0, 0.003), OnTarget, "-9 is inside");
    }

    #[test]
    fn is_not_fooled_by_a_wedge_that_carries_the_voice() {
        assert!(matches!(outcome(-6.0, 0.022), NotJudged(_)), "22 ms are 7.5 m");
        assert!(matches!(outcome(-6.0, -0.001), NotJudged(_)), "it arrives there first");
        let mut unknown = spill(channel(17, Role::Speech), channel(18, Role::Speech), -6.0);
        unknown.pairs[0].delay_s = Fact::sure(0.003, 0.5);
        assert!(matches!(only(&RULE, &unknown), NotJudged(_)), "the lag is not sure");
    }

    #[test]
    fn is_not_fooled_by_microphones_of_one_choir_or_by_instruments() {
        for (source, mic) in [(Role::Choir, Role::Choir), (Role::ElectricGuitar, Role::LeadVocal)] {
            let reading = spill(channel(17, source), channel(18, mic), -3.0);
            assert!(judged(&RULE, &reading).is_empty(), "{source:?} in {mic:?}");
        }
    }
}
