//! Noise floor close to the music.
//!
//! Looks at loud level over the quiet level of line inputs and voices. Never judges without 5 s in which every channel is quiet.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::session::Role;
use crate::unit::Unit;

pub(super) const RULE: Rule = Rule {
    id: "hiss-floor",
    title: "Noise floor close to the music",
    group: Group::Gain,
    tier: Tier::B,
    effect: 2,
    ease: 1,
    explains: &[],
    measures: "Loud level minus quiet level (5th percentile of 1 s RMS while every channel is quiet, above 200 Hz: rumble and hum have rules of their own).",
    limbs: &[Limb {
        name: "level over noise",
        unit: Unit::Db,
        windows: &[
            Window::at_least(45.0, 30.0, Source::CommonPractice).variant("line"),
            Window::at_least(30.0, 20.0, Source::CommonPractice).variant("mic"),
        ],
    }],
    combine: Combine::Worst,
    needs: &[Need::Raw, Need::Quiet],
    guards: Guards::USUAL,
    guard_text: "5 s in which every channel is quiet. Air noise in a microphone can't be told from hiss without a hall microphone, so those findings go to the mentor.",
    absent: "no line input, voice or acoustic guitar was recorded",
    heard: "{who} {is} close to the noise",
    why: "Hiss and hum show in soft passages and in every recording.",
    advice: &[
        "Raise the level at the source (instrument volume, closer microphone), then lower the gain.",
        "Use a balanced cable or a DI, and a fresh battery in active instruments.",
        "Close channels that nobody uses.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Spectrum of the quiet stretch.",
    fooled_by: "fan noise in a sensitive microphone",
    other_causes: "a weak instrument output, a long unbalanced cable, or hum",
    question: "What is heard on this channel alone while nobody plays?",
    exercise: "Listen to each input alone in silence and name hiss, hum or air, 5 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let quiet_s: f64 = reading.quiet.iter().map(|span| span.length_s()).sum();
    pick::inputs(reading)
        .filter_map(|input| {
            let variant = match input.role {
                Role::Keys => "line",
                Role::Bass | Role::AcousticGuitar | Role::ElectricGuitar if input.is_line => "line",
                Role::Speech | Role::LeadVocal | Role::AcousticGuitar => "mic",
                _ => return None,
            };
            let floor = &input.quiet_level_above_200_hz_dbfs;
            let observation = Observation {
                variant,
                page: (variant == "mic").then_some(Page::Mentor),
                evidence: reading.quiet.iter().copied().take(1).collect(),
                ..pick::raw_by_role(input, vec![Some(pick::minus(&input.loud_level_dbfs, floor))])
            };
            Some(if quiet_s < QUIET_S { observation.withheld(pick::NO_QUIET) } else { observation })
        })
        .collect()
}

/// Quiet that the floor needs, in seconds.
const QUIET_S: f64 = 5.0;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, only, session};
    use crate::unit::{Fact, Span};

    fn noisy(role: Role, over_noise_db: f64) -> Reading {
        let mut input = channel(1, role);
        input.quiet_level_above_200_hz_dbfs = Fact::exact(-18.0 - over_noise_db);
        input.quiet_level_above_200_hz_dbfs = Fact::exact(-18.0 - over_noise_db);
        session(vec![input])
    }

    #[test]
    fn fires_when_the_noise_is_close() {
        assert_eq!(only(&RULE, &noisy(Role::Keys, 44.0)), Near, "a line input under 45 dB");
        assert_eq!(only(&RULE, &noisy(Role::Keys, 29.0)), Outside, "a line input under 30 dB");
        assert_eq!(only(&RULE, &noisy(Role::LeadVocal, 19.0)), Outside, "a microphone under 20 dB");
    }

    #[test]
    fn stays_quiet_at_the_edges_of_the_target() {
        assert_eq!(only(&RULE, &noisy(Role::Keys, 45.0)), OnTarget, "45 dB is inside");
        assert_eq!(only(&RULE, &noisy(Role::LeadVocal, 30.0)), OnTarget, "30 dB is inside");
    }

    #[test]
    fn is_not_fooled_by_a_take_without_silence() {
        let mut reading = noisy(Role::Keys, 20.0);
        reading.quiet = vec![Span::new(0.0, 4.0)];
        assert!(matches!(only(&RULE, &reading), NotJudged(_)), "4 s of quiet are too few");
    }
}
