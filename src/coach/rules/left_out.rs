//! A playing channel does not reach the mix.
//!
//! Looks at how long a source plays in songs while its channel is closed. Leaves out what a hall hears from the stage.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::session::Role;
use crate::unit::Unit;

/// Loud from the stage: left out of the mix by choice.
const LOUD_ROLES: &[Role] = &[
    Role::Overhead,
    Role::HiHat,
    Role::SnareTop,
    Role::SnareBottom,
    Role::ElectricGuitar,
    Role::Click,
    Role::Timecode,
    Role::Talkback,
    Role::FxReturn,
];

pub(super) const RULE: Rule = Rule {
    id: "left-out",
    title: "A playing channel does not reach the mix",
    group: Group::Balance,
    tier: Tier::B,
    effect: 3,
    ease: 1,
    explains: &[],
    measures: "Time in songs in which a source plays and its channel is closed in the mix.",
    limbs: &[Limb {
        name: "closed while it plays",
        unit: Unit::Seconds,
        windows: &[Window::at_most(15.0, 60.0, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards { min_active_s: 30.0, min_own_to_spill_db: Some(6.0), ..Guards::USUAL },
    guard_text: "30 s of the source; own-to-spill of 6 dB or more; cymbals, snare and guitar amplifiers are loud from the stage and left out; so are click and talkback.",
    absent: "the mix could not be read back",
    heard: "{who} {is} closed while it plays",
    why: "This part does not reach the hall.",
    advice: &[
        "Check mute, mute group, fader and routing at the line check.",
        "Label the pages of the desk, so that no channel hides.",
    ],
    backing: &[Source::CommonPractice],
    shows: "A lane of the channel: sounding, and not in the mix.",
    fooled_by: "a source that is loud enough by itself, or a recorded mix that is another bus",
    other_causes: "the operator may have left it out on purpose",
    question: "Was this channel meant to be in the mix?",
    exercise: "Walk through all channels in a song and name for each why it is open or closed, 5 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let groups: Vec<&Vec<String>> = reading.mix.iter().flat_map(|mix| &mix.groups).collect();
    pick::lines(reading)
        .filter(|(channel, _)| !LOUD_ROLES.contains(&channel.role))
        .map(|(channel, in_mix)| {
            let is_grouped = groups.iter().any(|group| group.contains(&channel.id));
            Observation {
                evidence: in_mix.left_out.clone(),
                affected_s: in_mix.left_out_s.value().unwrap_or(0.0),
                ..pick::through_mix(channel, vec![Some(in_mix.left_out_s.clone())])
            }
            .doubted(is_grouped, "another channel carries the same signal")
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, judged, mixed, only};
    use crate::session::Role;
    use crate::unit::Fact;

    fn closed(role: Role, left_out_s: f64) -> Reading {
        let mut reading = mixed(vec![channel(5, role)]);
        reading.mix.as_mut().expect("it was mixed").channels[0].left_out_s =
            Fact::sure(left_out_s, 0.85);
        reading
    }

    #[test]
    fn fires_when_a_part_is_missing() {
        assert_eq!(only(&RULE, &closed(Role::Keys, 30.0)), Near, "over 15 s");
        assert_eq!(only(&RULE, &closed(Role::BackingVocal, 90.0)), Outside, "over 60 s");
    }

    #[test]
    fn stays_quiet_at_a_late_entry() {
        assert_eq!(only(&RULE, &closed(Role::Keys, 15.0)), OnTarget, "15 s is inside");
    }

    #[test]
    fn is_not_fooled_by_a_loud_snare_or_by_spill() {
        assert!(judged(&RULE, &closed(Role::SnareTop, 90.0)).is_empty(), "heard from the stage");
        let mut spill = closed(Role::BackingVocal, 90.0);
        spill.channels[0].own_to_spill_db = Fact::exact(4.0);
        assert!(matches!(only(&RULE, &spill), NotJudged(_)), "it may be spill");
    }
}
