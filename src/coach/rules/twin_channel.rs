//! Two channels carry the same signal.
//!
//! Looks at channels that carry the same signal. Never calls a mono source on a stereo pair more than near.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Kinship, Reading};
use crate::session::Family;
use crate::unit::Unit;

pub(super) const RULE: Rule = Rule {
    id: "twin-channel",
    title: "Two channels carry the same signal",
    group: Group::Recording,
    tier: Tier::A,
    effect: 2,
    ease: 1,
    explains: &[],
    measures: "Residual of one channel after the best scaling of the other, at lag 0, relative to its power.",
    limbs: &[Limb {
        name: "what differs between them",
        unit: Unit::Db,
        windows: &[
            Window::near_below(-20.0, Source::CommonPractice).variant("stereo"),
            Window::at_least(-20.0, -40.0, Source::CommonPractice),
        ],
    }],
    combine: Combine::Worst,
    needs: &[],
    guards: Guards { min_active_s: 5.0, ..Guards::USUAL },
    guard_text: "5 s of sound; both recorded at the same point of the desk; a left and right with one signal is noted as a mono source, near at most.",
    absent: "no two channels carry the same signal",
    heard: "{who} {is} carrying the same signal",
    why: "A double patch brings surprises of level and polarity.",
    advice: &[
        "Check the patch and the source of each channel.",
        "Take one of the two out of the mix.",
    ],
    backing: &[Source::CommonPractice],
    shows: "List of pairs.",
    fooled_by: "a stereo source that is really mono",
    other_causes: "a mono source on a stereo pair",
    question: "Is this meant to be stereo?",
    exercise: "Trace two inputs from stage box to channel and back, 5 minutes.",
    praise: None,
    page: Page::Lead,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    reading
        .pairs
        .iter()
        .filter(|pair| matches!(pair.kinship, Kinship::Twin | Kinship::StereoPair))
        .filter_map(|pair| {
            let (source, mic) = pick::both(reading, pair)?;
            // A mix may well be mono, and one channel before and after its processing is one source.
            if source.tap != mic.tap || source.role.family() == Family::Mix {
                return None;
            }
            let is_stereo = pair.kinship == Kinship::StereoPair;
            Some(Observation {
                variant: if is_stereo { "stereo" } else { "" },
                detail: is_stereo.then_some("One mono source on two channels.".into()),
                ..pick::pair(source, mic, pair, vec![Some(pair.residual_db.clone())])
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, OnTarget, Outside};
    use crate::coach::example::{channel, judged, only, pair, with_pair};
    use crate::session::Role;
    use crate::unit::Fact;

    fn twins(residual_db: f64, kinship: Kinship) -> Reading {
        let (left, right) = (channel(22, Role::Playback), channel(23, Role::Playback));
        let mut both = pair(&left, &right, kinship);
        both.residual_db = Fact::exact(residual_db);
        with_pair(left, right, both)
    }

    #[test]
    fn fires_when_two_channels_are_the_same() {
        assert_eq!(only(&RULE, &twins(-25.0, Kinship::Twin)), Near, "under -20");
        assert_eq!(only(&RULE, &twins(-60.0, Kinship::Twin)), Outside, "under -40");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &twins(-20.0, Kinship::Twin)), OnTarget, "-20 is inside");
    }

    #[test]
    fn is_not_fooled_by_a_mono_source_on_a_stereo_pair() {
        assert_eq!(only(&RULE, &twins(-90.0, Kinship::StereoPair)), Near, "near at most");
        let mut main = twins(-90.0, Kinship::StereoPair);
        for side in &mut main.channels {
            side.role = Role::Main;
        }
        assert!(judged(&RULE, &main).is_empty(), "a main mix may be mono");
    }
}
