//! Voice lacks clarity.
//!
//! Looks at the upper middle of voices against their body. Never gives a verdict on recordings taken before the EQ.

use crate::coach::rule::{
    Combine, Group, Guards, Limb, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::coach::{pick, windows};
use crate::reading::Reading;
use crate::session::Role;
use crate::unit::Unit;

const VOICES: &[Role] = &[Role::Speech, Role::LeadVocal, Role::BackingVocal, Role::Choir];

pub(super) const RULE: Rule = Rule {
    id: "dull",
    title: "Voice lacks clarity",
    group: Group::Tone,
    tier: Tier::B,
    effect: 3,
    ease: 1,
    explains: &["voice-masked", "speech-unclear"],
    measures: "Level in 1778-5623 Hz minus level in 355-891 Hz, active frames.",
    limbs: &[Limb {
        name: "upper middle against body",
        unit: Unit::Db,
        windows: &[Window::at_least(
            -19.0,
            -24.0,
            Source::Published(
                "speech reference -12.8 dB (computed from Byrne et al., JASA 1994); weight of bands in speech: ANSI S3.5-1997 (from memory)",
            ),
        )],
    }],
    combine: Combine::Worst,
    needs: &[],
    guards: Guards { min_own_to_spill_db: Some(10.0), ..Guards::USUAL },
    guard_text: "Outside the window in 60 % of active blocks or more, in two songs or one long talk; own-to-spill of 10 dB or more; before the EQ it is a check for the mentor.",
    absent: "no voice was recorded",
    heard: "{who} {is} dull",
    why: "Without the upper middle, words blur.",
    advice: &[
        "Turn the microphone to the mouth, hand off the grille.",
        "Check that the windshield is dry and clean.",
        "Move a clip microphone closer to the chin, away from cloth.",
        "Lift 2-4 dB gently at 2.5-5 kHz after that, watching for feedback.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Spectrum over the reference.",
    fooled_by: "a dark voice, a choir at a distance, or a de-esser",
    other_causes: "a microphone that points away, a wet windshield, cloth over a clip microphone",
    question: "Where does the microphone point?",
    exercise: "Turn one microphone away in three steps while someone reads, and say when words blur, 3 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::MentorCheck("the EQ"),
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    pick::as_mixed(reading, VOICES)
        .iter()
        .map(|voice| {
            let bands = &voice.spectrum.band_db;
            let upper = pick::bands(bands, &[windows::PRESENCE, windows::EDGE]);
            let fact = pick::minus(&upper, &pick::bands(bands, &[windows::BODY]));
            pick::tone(reading, voice, Some(windows::PRESENCE), vec![Some(fact)])
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, only, session};
    use crate::session::Tap;
    use crate::unit::{Fact, Span};

    /// A voice whose upper middle stands so far under its body: presence carries it, edge adds nothing that counts.
    fn voice(clarity_db: f64, share: f64) -> Reading {
        let mut voice = channel(21, Role::Speech);
        for (band, level_db) in
            [(windows::BODY, -3.0), (windows::PRESENCE, clarity_db - 3.0), (windows::EDGE, -90.0)]
        {
            voice.spectrum.band_db[band] = Fact::exact(level_db);
        }
        voice.spectrum.band_out_percent[windows::PRESENCE] = share;
        voice.tap = Tap::Processed;
        session(vec![voice])
    }

    #[test]
    fn fires_when_the_upper_middle_is_missing() {
        assert_eq!(only(&RULE, &voice(-20.0, 90.0)), Near, "under -19");
        assert_eq!(only(&RULE, &voice(-25.0, 90.0)), Outside, "under -24");
    }

    #[test]
    fn stays_quiet_near_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &voice(-18.9, 90.0)), OnTarget, "-19 is the border");
    }

    #[test]
    fn is_not_fooled_by_a_single_short_talk() {
        let mut short = voice(-25.0, 90.0);
        short.channels[0].active = vec![Span::new(20.0, 50.0)];
        assert!(matches!(only(&RULE, &short), NotJudged(_)), "30 s of talk are no long talk");
    }
}
