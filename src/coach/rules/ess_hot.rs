//! Sharp S sounds.
//!
//! Looks at the sharpest moments of solo voices. Never speaks to the trainee: cymbal spill can't be told apart yet.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::unit::Unit;

pub(super) const RULE: Rule = Rule {
    id: "ess-hot",
    title: "Sharp S sounds",
    group: Group::Tone,
    tier: Tier::B,
    effect: 2,
    ease: 1,
    explains: &[],
    measures: "99th percentile of 30 ms level in 4.5-9 kHz minus the voice's loud level.",
    limbs: &[Limb {
        name: "S over loud level",
        unit: Unit::Db,
        windows: &[Window::at_most(
            -9.0,
            -5.0,
            Source::Published(
                "power of s about -16 dB and sh about -9 dB re the strongest vowel (Fletcher 1953, from memory)",
            ),
        )],
    }],
    combine: Combine::Worst,
    needs: &[],
    guards: Guards {
        min_active_s: 60.0,
        min_events: 0,
        min_own_to_spill_db: Some(10.0),
        ..Guards::USUAL
    },
    guard_text: "60 s of the voice in two songs or one long talk; own-to-spill of 10 dB or more; for the mentor.",
    absent: "no voice was recorded",
    heard: "{who} {is} sharp on S",
    why: "Sharp S sounds sting, above all in ears.",
    advice: &[
        "Move the microphone slightly beside the line of the mouth.",
        "Lower the treble or presence boost on that microphone.",
        "Use a de-esser with 3-6 dB of action.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Times of the ten sharpest, and a short spectrum.",
    fooled_by: "spill of hi-hat and cymbals, or a language rich in sh sounds",
    other_causes: "a presence boost, or a bright microphone",
    question: "Is it the S or a cymbal?",
    exercise: "Read one line rich in S at three angles to the microphone, 2 minutes.",
    praise: None,
    page: Page::Mentor,
    raw_wording: RawWording::MentorCheck("the EQ"),
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    pick::as_mixed(reading, pick::SOLO_VOICES)
        .iter()
        .map(|voice| pick::tone(reading, voice, None, vec![Some(voice.spectrum.ess_db.clone())]))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, only, session};
    use crate::session::{Role, Tap};
    use crate::unit::Fact;

    fn voice(ess_db: f64, own_to_spill_db: f64) -> Reading {
        let mut voice = channel(17, Role::LeadVocal);
        voice.spectrum.ess_db = Fact::exact(ess_db);
        voice.own_to_spill_db = Fact::exact(own_to_spill_db);
        voice.tap = Tap::Processed;
        session(vec![voice])
    }

    #[test]
    fn fires_when_s_sounds_stand_out() {
        assert_eq!(only(&RULE, &voice(-8.0, 20.0)), Near, "over -9");
        assert_eq!(only(&RULE, &voice(-4.0, 20.0)), Outside, "over -5");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &voice(-9.0, 20.0)), OnTarget, "-9 is inside");
    }

    #[test]
    fn is_not_fooled_by_cymbals_in_the_microphone() {
        assert!(matches!(only(&RULE, &voice(-4.0, 9.0)), NotJudged(_)), "too much spill");
    }
}
