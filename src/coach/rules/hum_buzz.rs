//! Hum or buzz.
//!
//! Looks at mains hum in stretches where every channel is quiet. Never offers electrical work as a thing to try.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Channel, Reading};
use crate::session::{Role, Tap};
use crate::unit::Unit;

/// Quiet that the comb needs, in seconds.
const QUIET_S: f64 = 5.0;
/// A comb further from 50 and 60 Hz than this is no mains, in Hz.
const NEAR_HZ: f64 = 0.2;
/// Hum above this counts among the channels that hum, in dB re the loud level.
const HEARD_DB: f64 = -60.0;

pub(super) const RULE: Rule = Rule {
    id: "hum-buzz",
    title: "Hum or buzz",
    group: Group::Recording,
    tier: Tier::A,
    effect: 3,
    ease: 2,
    explains: &["hiss-floor", "di-low"],
    measures: "Power of the mains comb (50 or 60 Hz and multiples to 1 kHz) in quiet stretches, relative to the loud level.",
    limbs: &[Limb {
        name: "hum re the loud level",
        unit: Unit::Db,
        windows: &[
            Window::at_most(-40.0, -30.0, Source::CommonPractice).variant("amplifier"),
            Window::at_most(-60.0, -45.0, Source::CommonPractice),
        ],
    }],
    combine: Combine::Worst,
    needs: &[Need::Raw, Need::Quiet],
    guards: Guards { min_active_s: 5.0, min_events: 0, ..Guards::USUAL },
    guard_text: "5 s in which every channel is quiet; a comb on 50 or 60 Hz within 0.2 Hz.",
    absent: "no input was recorded",
    heard: "{who} {is} humming",
    why: "Hum sits under every soft moment; buzz can point to a wiring fault.",
    advice: &[
        "Close the channel and its sends, then swap cable and DI.",
        "Use the audio ground lift of the DI; leave the safety earth of every plug as it is.",
        "Keep audio and mains cables apart.",
        "Ask an electrician if the hum stays or anything tingles.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Spectrum with the comb marked, channels ranked.",
    fooled_by: "a bass note near 50 or 100 Hz, lighting dimmers, or a single-coil guitar at rest",
    other_causes: "a ground loop, a worn cable, a dimmer, a single-coil pickup",
    question: "Does the hum stay when another instrument is plugged into this input?",
    exercise: "Trace one hum by swapping one thing at a time, channel closed, 5 minutes.",
    praise: None,
    page: Page::Lead,
    raw_wording: RawWording::Finding,
    safety: Some(
        "Hum is not worth a life. Never remove, tape over or lift the safety earth of a plug. If anything tingles, smells, buzzes loudly or trips a breaker: do not touch it, switch off at the socket if that is safe, keep people away and call a licensed electrician. Leave residual-current protection in use. A wet stage is a stage without power.",
    ),
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let quiet_s: f64 = reading.quiet.iter().map(|span| span.length_s()).sum();
    let n_humming = pick::inputs(reading).filter(|input| is_humming(input)).count();
    pick::inputs(reading)
        .map(|input| {
            let is_amplifier = !input.is_line && matches!(input.role, Role::Bass | Role::ElectricGuitar)
                // A passive pickup hums like its amplifier.
                || input.role == Role::ElectricGuitar;
            let is_mains = input.hum.mains_hz.value().is_some_and(is_mains);
            let observation = Observation {
                variant: if is_amplifier { "amplifier" } else { "" },
                evidence: input.hum.evidence.clone(),
                active_s: quiet_s,
                affected_s: quiet_s,
                is_safety: input.is_line || input.role == Role::Keys || n_humming > 1,
                confidence_cap: input.role_confidence,
                ..Observation::of(input, vec![Some(input.hum.level_db.clone())])
            }
            .doubted(!is_mains, "the tones do not lie on the mains frequency");
            match input.tap {
                _ if quiet_s < QUIET_S => observation.withheld(pick::NO_QUIET),
                Tap::Raw => observation,
                _ => observation.withheld(pick::PROCESSED),
            }
        })
        .collect()
}

fn is_mains(mains_hz: f64) -> bool {
    [50.0, 60.0].iter().any(|nominal_hz| (mains_hz - nominal_hz).abs() <= NEAR_HZ)
}

fn is_humming(input: &Channel) -> bool {
    input.hum.mains_hz.value().is_some_and(is_mains)
        && input.hum.level_db.value().is_some_and(|level_db| level_db > HEARD_DB)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, only, session};
    use crate::unit::Fact;

    fn humming(role: Role, level_db: f64) -> Reading {
        let mut input = channel(13, role);
        input.hum.level_db = Fact::exact(level_db);
        session(vec![input])
    }

    #[test]
    fn fires_when_a_line_input_hums() {
        assert_eq!(only(&RULE, &humming(Role::Keys, -50.0)), Near, "over -60");
        assert_eq!(only(&RULE, &humming(Role::Keys, -42.0)), Outside, "over -45");
        assert!(
            observe(&humming(Role::Keys, -42.0))[0].is_safety,
            "a line input needs the safety wording"
        );
    }

    #[test]
    fn stays_quiet_at_the_edges_of_the_target() {
        assert_eq!(only(&RULE, &humming(Role::Keys, -60.0)), OnTarget, "-60 is inside");
        assert_eq!(only(&RULE, &humming(Role::ElectricGuitar, -40.0)), OnTarget, "-40 is inside");
    }

    #[test]
    fn is_not_fooled_by_a_bass_note_or_one_microphone() {
        let mut note = humming(Role::Keys, -30.0);
        note.channels[0].hum.mains_hz = Fact::exact(49.0);
        assert!(matches!(only(&RULE, &note), NotJudged(_)), "49.0 Hz is a note (G1)");
        assert!(
            !observe(&humming(Role::LeadVocal, -42.0))[0].is_safety,
            "one microphone may hear it from the air"
        );
    }
}
