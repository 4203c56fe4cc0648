//! Background noise of the hall is high.
//!
//! Looks at words over noise at a hall microphone. Never speaks of an operator: it is a condition of the hall.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::unit::Unit;

pub(super) const RULE: Rule = Rule {
    id: "room-noise",
    title: "Background noise of the hall is high",
    group: Group::Source,
    tier: Tier::C,
    effect: 2,
    ease: 2,
    explains: &["speech-unclear"],
    measures: "Loud level of talk minus the level of the quietest tenth of talk and quiet stretches, A-weighted, at the hall microphone.",
    limbs: &[Limb {
        name: "speech over noise",
        unit: Unit::Db,
        windows: &[Window::at_least(20.0, 15.0, SOURCE)],
    }],
    combine: Combine::Worst,
    needs: &[],
    guards: Guards::USUAL,
    guard_text: "20 s of talk; a recorder that does not set its level by itself.",
    absent: "no hall microphone was recorded",
    heard: "{who} {is} noisy while somebody talks",
    why: "Fans, projectors and open doors eat the soft ends of words.",
    advice: &[
        "Switch fans and projectors off while somebody talks, or move them, and close doors.",
        "Bring the talker closer to the microphone.",
        "Raise speech only as far as feedback allows.",
    ],
    backing: &[SOURCE],
    shows: "The passages of talk.",
    fooled_by: "people who talk in the audience, rain, or a microphone beside a fan",
    other_causes: "an air conditioner, a projector, or a street behind open windows",
    question: "What can be heard in the hall when nobody talks?",
    exercise: "Stand in the middle of the quiet hall for one minute and name every sound, 2 minutes.",
    praise: None,
    page: Page::Mentor,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

const SOURCE: Source = Source::Published(
    "at least 15 dB of speech over noise are wanted for teaching (ANSI/ASA S12.60, from memory)",
);

fn observe(reading: &Reading) -> Vec<Observation> {
    pick::of_talk(reading, |room| room.speech_over_noise_db.clone())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{only, with_room};
    use crate::unit::{Fact, Unmeasured};

    fn hall(over_db: f64) -> Reading {
        with_room(|room| room.speech_over_noise_db = Fact::sure(over_db, 0.8))
    }

    #[test]
    fn fires_when_words_stand_in_noise() {
        assert_eq!(only(&RULE, &hall(17.0)), Near, "under 20");
        assert_eq!(only(&RULE, &hall(11.0)), Outside, "under 15");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &hall(20.0)), OnTarget, "20 is inside");
    }

    #[test]
    fn is_not_fooled_by_a_recorder_that_sets_its_level() {
        let steered = with_room(|room| {
            let reason = Unmeasured::Because("the recorder sets its level by itself");
            room.speech_over_noise_db = Fact::missing(reason);
        });
        assert!(matches!(only(&RULE, &steered), NotJudged(_)), "it lifts the noise itself");
    }
}
