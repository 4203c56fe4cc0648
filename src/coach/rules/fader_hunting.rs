//! Fader hunts up and down.
//!
//! Looks at how often the slow gain of voices and soloists turns in songs. For the mentor only, and never as wrong: only as many.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::session::Role;
use crate::unit::Unit;

const ROLES: &[Role] = &[
    Role::Speech,
    Role::LeadVocal,
    Role::Strings,
    Role::Brass,
    Role::Woodwind,
    Role::ElectricGuitar,
];

pub(super) const RULE: Rule = Rule {
    id: "fader-hunting",
    title: "Fader moves up and down without effect",
    group: Group::Habits,
    tier: Tier::C,
    effect: 2,
    ease: 1,
    explains: &[],
    measures: "Turns of 2 dB or more of the slow gain of the channel in songs, a minute.",
    limbs: &[Limb {
        name: "turns of the fader",
        unit: Unit::PerMinute,
        windows: &[Window::at_most(2.0, 6.0, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards { min_active_s: 60.0, min_confidence: 0.7, ..Guards::USUAL },
    guard_text: "A minute of the source in songs; moves that a compressor explains are taken off first.",
    absent: "the mix could not be read back",
    heard: "{who} {is} moved up and down often",
    why: "A constant search moves the mix, and usually means that gain, distance or compression is not settled.",
    advice: &[
        "Settle gain and distance first.",
        "Use light compression, then two planned moves a song: verse and chorus.",
        "Listen to a whole line before moving.",
    ],
    backing: &[Source::CommonPractice],
    shows: "The course of the gain.",
    fooled_by: "a compressor that looks like a fader, and automatic mixing",
    other_causes: "a singer whose distance changes all the time",
    question: "What did each move answer?",
    exercise: "Leave one fader alone for a whole song and write down where a move was wanted, 5 minutes.",
    praise: None,
    page: Page::Mentor,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    pick::in_mix(reading, ROLES)
        .filter(|(_, in_mix)| in_mix.turns_per_minute.value().is_some())
        .map(|(channel, in_mix)| {
            pick::through_mix(channel, vec![Some(in_mix.turns_per_minute.clone())])
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, OnTarget, Outside};
    use crate::coach::example::{channel, judged, mixed, only};
    use crate::unit::Fact;

    fn turning(role: Role, per_min: f64) -> Reading {
        let mut reading = mixed(vec![channel(17, role)]);
        reading.mix.as_mut().expect("it was mixed").channels[0].turns_per_minute =
            Fact::sure(per_min, 0.85);
        reading
    }

    #[test]
    fn fires_when_a_fader_never_rests() {
        assert_eq!(only(&RULE, &turning(Role::LeadVocal, 3.0)), Near, "over 2");
        assert_eq!(only(&RULE, &turning(Role::LeadVocal, 8.0)), Outside, "over 6");
    }

    #[test]
    fn stays_quiet_at_two_a_minute() {
        assert_eq!(only(&RULE, &turning(Role::LeadVocal, 2.0)), OnTarget, "2 is inside");
    }

    #[test]
    fn is_not_fooled_by_a_tom() {
        assert!(judged(&RULE, &turning(Role::Tom, 9.0)).is_empty(), "a gate is no hand");
    }
}
