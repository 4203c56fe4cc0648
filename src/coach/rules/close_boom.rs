//! Boomy close voice.
//!
//! Looks at the low end of solo voices against their upper middle. Never looks where the microphone hears much of its neighbours.

use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::coach::{pick, windows};
use crate::reading::Reading;
use crate::unit::Unit;

pub(super) const RULE: Rule = Rule {
    id: "close-boom",
    title: "Boomy close voice",
    group: Group::Microphone,
    tier: Tier::B,
    effect: 2,
    ease: 1,
    explains: &["mud"],
    measures: "Level in 112-355 Hz minus level in 891-3548 Hz, active frames.",
    limbs: &[Limb {
        name: "low end over upper middle",
        unit: Unit::Db,
        windows: &[Window::at_most(
            13.0,
            18.0,
            Source::Published(
                "reference +7 dB computed from the speech spectrum of Byrne et al., JASA 1994; proximity effect after Eargle, The Microphone Book (from memory)",
            ),
        )],
    }],
    combine: Combine::Worst,
    needs: &[Need::Raw],
    guards: Guards { min_own_to_spill_db: Some(10.0), ..Guards::USUAL },
    guard_text: "Own-to-spill of 10 dB or more; 20 s of the voice. The pitch of the voice is not known, so deep voices need a look.",
    absent: "no voice was recorded",
    heard: "{who} {is} boomy",
    why: "Lips on a directional microphone raise the low end and hide consonants.",
    advice: &[
        "Keep one to two fingers more distance.",
        "Check that the high-pass is on, then move it up to 100-150 Hz.",
        "Take a little off with a gentle low shelf after that.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Spectrum of the voice over the reference window.",
    fooled_by: "a deep voice, spill of the bass, or a recording that is already filtered",
    other_causes: "a deep voice, a boomy hall, or a wedge that leaks",
    question: "How does the same voice sound two fingers further away?",
    exercise: "Speak one line touching, at one, two and four fingers, and note where the boom goes, 3 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let voices = reading.with_role(pick::SOLO_VOICES);
    voices
        .map(|voice| {
            let bands = &voice.spectrum.band_db;
            let low = pick::bands(bands, &[windows::WARMTH, windows::THICK]);
            let high = pick::bands(bands, &[windows::NOSE, windows::PRESENCE]);
            pick::by_role(voice, vec![Some(pick::minus(&low, &high))])
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, only, session};
    use crate::session::Role;
    use crate::unit::Fact;

    /// A voice whose low end stands so far above its upper middle; each pair of bands has equal shares.
    fn outcome(boom_db: f64, own_to_spill_db: f64) -> Outcome {
        let mut voice = channel(1, Role::LeadVocal);
        voice.own_to_spill_db = Fact::exact(own_to_spill_db);
        for (band, level_db) in [(2, boom_db), (3, boom_db), (5, 0.0), (6, 0.0)] {
            voice.spectrum.band_db[band] = Fact::exact(level_db - 30.0);
        }
        only(&RULE, &session(vec![voice]))
    }

    #[test]
    fn fires_when_the_low_end_stands_more_than_13_db_above() {
        assert_eq!(outcome(13.5, 20.0), Near, "between 13 and 18 dB");
        assert_eq!(outcome(18.5, 20.0), Outside, "over 18 dB");
    }

    #[test]
    fn stays_quiet_near_the_edge_of_the_target() {
        assert_eq!(outcome(12.9, 20.0), OnTarget, "13 dB is the border");
    }

    #[test]
    fn is_not_fooled_by_spill_of_the_bass() {
        assert!(matches!(outcome(20.0, 9.0), NotJudged(_)), "the microphone hears its neighbours");
    }
}
