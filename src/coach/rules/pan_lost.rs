//! Key part panned hard in a wide hall.
//!
//! Looks at the pan of voices, kick, bass and soloists. Never speaks of a mono mix, nor of one song only.

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
    Role::Kick,
    Role::Bass,
    Role::Strings,
    Role::Brass,
    Role::Woodwind,
];

pub(super) const RULE: Rule = Rule {
    id: "pan-lost",
    title: "Key part panned hard in a wide hall",
    group: Group::Balance,
    tier: Tier::B,
    effect: 2,
    ease: 1,
    explains: &[],
    measures: "Size of the pan of the channel in the main mix: 0 is the middle, 1 is one side only.",
    limbs: &[Limb {
        name: "pan from the middle",
        unit: Unit::Ratio,
        windows: &[Window::at_most(0.4, 0.7, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards { min_active_s: 30.0, min_confidence: 0.6, ..Guards::USUAL },
    guard_text: "30 s of the source; two sides; said of what feeds the hall.",
    absent: "the mix could not be read back",
    heard: "{who} {is} far to one side",
    why: "People who sit on the other side miss it.",
    advice: &[
        "Keep voices, kick and bass near the middle.",
        "Use width for stereo keys, overheads and effects.",
    ],
    backing: &[Source::CommonPractice],
    shows: "A map of all channels from left to right.",
    fooled_by: "an effect on purpose in one song",
    other_causes: "a hall in which everybody hears both sides",
    question: "Who in the hall hears the left side only?",
    exercise: "Walk from the far left seat to the far right one during a song and name what changes, 4 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    pick::in_mix(reading, ROLES)
        .filter(|(_, in_mix)| in_mix.pan.value().is_some())
        .map(|(channel, in_mix)| {
            let size = pick::map(&in_mix.pan, f64::abs);
            // One side of a stereo pair belongs there.
            pick::through_mix(channel, vec![Some(size)])
                .doubted(channel.partner.is_some(), "it is one side of a stereo pair")
                .doubted(reading.session.main_bus != "hall", "the mix does not feed a hall")
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, mixed, only};
    use crate::unit::Fact;

    fn panned(pan: f64) -> Reading {
        let mut reading = mixed(vec![channel(17, Role::LeadVocal)]);
        reading.mix.as_mut().expect("it was mixed").channels[0].pan = Fact::sure(pan, 0.9);
        reading
    }

    #[test]
    fn fires_when_a_voice_stands_at_the_side() {
        assert_eq!(only(&RULE, &panned(-0.5)), Near, "over 0.4");
        assert_eq!(only(&RULE, &panned(0.9)), Outside, "over 0.7");
    }

    #[test]
    fn stays_quiet_at_the_edge() {
        assert_eq!(only(&RULE, &panned(-0.4)), OnTarget, "0.4 is inside");
    }

    #[test]
    fn is_not_fooled_by_a_stereo_pair() {
        let mut reading = panned(1.0);
        reading.channels[0].partner = Some("ch18".to_owned());
        assert!(matches!(only(&RULE, &reading), NotJudged(_)), "a pair belongs to the sides");
    }
}
