//! Hall rings too long for speech, or for a loud band.
//!
//! Looks at the decay of 500 Hz and 1 kHz at a hall microphone; for a loud band only where the session says that it is one. Never judges a hall whose volume is not stated.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Reading, Room};
use crate::unit::{Fact, Unit};

pub(super) const RULE: Rule = Rule {
    id: "room-long",
    title: "Hall rings too long",
    group: Group::Source,
    tier: Tier::B,
    effect: 3,
    ease: 3,
    explains: &["speech-unclear", "reverb-wash"],
    measures: "Decay time of 500 Hz and 1 kHz at the hall microphone, behind a clap or from sudden stops of the music, over the time that is recommended for speech in a hall of this volume, and with a loud band over the longest that is liked for amplified music.",
    limbs: &[
        Limb {
            name: "decay re the recommended time",
            unit: Unit::Ratio,
            windows: &[Window::at_most(1.2, 1.5, SOURCE)],
        },
        Limb {
            name: "decay re the longest liked for amplified music",
            unit: Unit::Ratio,
            windows: &[Window::at_most(1.0, 1.25, LIKED)],
        },
    ],
    combine: Combine::Worst,
    needs: &[],
    guards: Guards { min_active_s: 0.0, min_events: 0, ..Guards::USUAL },
    guard_text: "A clap with quiet around it, or six clean stops of the music; the volume of the hall stated; a recorder that does not set its level by itself.",
    absent: "no hall microphone was recorded",
    heard: "{who} {is} ringing long",
    why: "Long decay smears consonants; louder does not make it clearer.",
    advice: &[
        "Bring the talker closer to the microphone, and keep levels modest.",
        "Point loudspeakers at people and away from hard walls; a competent person moves or tilts them.",
        "Put soft furnishing on the back wall first: curtains, carpets, full seats.",
        "Leave speech without added reverb, and speak slower.",
        "Ask a professional of room acoustics if it stays so.",
    ],
    backing: &[SOURCE],
    shows: "How the sound falls behind the clap, with the recommended time.",
    fooled_by: "a reverb effect in the loudspeakers, or one drum that rings",
    other_causes: "an empty hall, open side rooms, or hard walls without curtains",
    question: "How does the hall sound with people in it?",
    exercise: "Clap once in the quiet hall and count how long it can be heard, near the stage and at the back, 2 minutes.",
    praise: None,
    page: Page::Lead,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

const SOURCE: Source =
    Source::Published("DIN 18041:2016, use A2 (speech): 0.37 lg(V) - 0.14 s; terms of ISO 3382-1");

const LIKED: Source = Source::Published(
    "amplified music in halls of 1000 to 6000 m3 was liked at 0.6 to 1.2 s (Adelman-Larsen, Thompson, Gade, JASA 2010, from memory)",
);

fn observe(reading: &Reading) -> Vec<Observation> {
    reading.room.iter().map(|room| observation(room, reading)).collect()
}

fn observation(room: &Room, reading: &Reading) -> Observation {
    let over = |target: &Fact| match (room.decay_s.value(), target.value()) {
        (Some(decay_s), Some(target_s)) => {
            Fact::sure(decay_s / target_s, room.decay_s.confidence().min(target.confidence()))
        }
        (None, _) => room.decay_s.clone(),
        (_, None) => target.clone(),
    };
    let is_loud = pick::style(reading) == "loud-band";
    let liked =
        room.liked_music_decay_s.as_ref().filter(|liked| is_loud && liked.value().is_some());
    let facts = vec![Some(over(&room.recommended_decay_s)), liked.map(over)];
    let told = room.decay_s.value().zip(room.recommended_decay_s.value());
    let from = room.decay_from.words();
    Observation {
        evidence: room.decay_evidence.clone(),
        n_events: room.decay_evidence.len(),
        detail: told.map(|(decay_s, recommended_s)| {
            format!(
                "It takes {decay_s:.1} s to fall by 60 dB ({from}); {recommended_s:.1} s are recommended for speech in a hall of this volume."
            )
            .into()
        }),
        ..pick::of_hall(room, facts, reading.session.duration_s)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{only, session, with_room};
    use crate::unit::Unmeasured;

    fn hall(decay_s: f64) -> Reading {
        with_room(|room| room.decay_s = Fact::sure(decay_s, 0.9))
    }

    #[test]
    fn fires_when_the_hall_rings_longer_than_speech_wants() {
        // 1188 m3 want 1.00 s.
        assert_eq!(only(&RULE, &hall(1.35)), Near, "1.35 times");
        assert_eq!(only(&RULE, &hall(1.8)), Outside, "1.8 times");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &hall(1.19)), OnTarget, "under 1.2 times");
        assert!((RULE.observe)(&session(Vec::new())).is_empty(), "no hall microphone");
    }

    #[test]
    fn fires_when_it_rings_longer_than_a_loud_band_wants() {
        let loud = |decay_s: f64| {
            let mut reading = hall(decay_s);
            reading.session.style = "loud-band".to_owned();
            let room = reading.room.as_mut().expect("it has a hall microphone");
            room.liked_music_decay_s = Some(Fact::sure(1.2, 0.8));
            // A large hall for speech: 1.7 s would be near at most.
            room.recommended_decay_s = Fact::exact(1.5);
            reading
        };
        assert_eq!(only(&RULE, &loud(1.1)), OnTarget, "under 1.2 s");
        assert_eq!(only(&RULE, &loud(1.4)), Near, "up to 1.5 s");
        assert_eq!(only(&RULE, &loud(1.6)), Outside, "over 1.5 s");
        let mut other = loud(1.6);
        other.session.style = "song-led".to_owned();
        assert_eq!(only(&RULE, &other), OnTarget, "nobody said that it is a loud band");
    }

    #[test]
    fn is_not_fooled_by_a_hall_of_unknown_volume() {
        let unknown = with_room(|room| {
            room.decay_s = Fact::sure(1.8, 0.9);
            let reason = Unmeasured::Because("the volume of the hall is not stated");
            room.recommended_decay_s = Fact::missing(reason);
        });
        assert!(matches!(only(&RULE, &unknown), NotJudged(_)), "no volume, no target");
    }
}
