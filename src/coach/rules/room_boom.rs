//! Low notes hang in the hall.
//!
//! Looks at the decay behind a clap, low against middle. Never takes a stop of the music: there a string goes on.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Reading, Room};
use crate::unit::Unit;

pub(super) const RULE: Rule = Rule {
    id: "room-boom",
    title: "Low notes hang in the hall",
    group: Group::Source,
    tier: Tier::B,
    effect: 2,
    ease: 3,
    explains: &["low-pile", "bass-heavy"],
    measures: "Decay time of 63 and 125 Hz over that of 500 Hz and 1 kHz, behind a clap or a burst balloon at the hall microphone.",
    limbs: &[Limb {
        name: "low decay re the middle",
        unit: Unit::Ratio,
        windows: &[Window::at_most(1.3, 1.8, SOURCE)],
    }],
    combine: Combine::Worst,
    needs: &[],
    guards: Guards { min_active_s: 0.0, min_events: 0, ..Guards::USUAL },
    guard_text: "A clap or a balloon with quiet around it, loud enough at 63 and 125 Hz; a recorder that does not set its level by itself.",
    absent: "no hall microphone was recorded",
    heard: "{who} {is} holding low notes",
    why: "Bass that hangs on covers the words and makes the band sound late.",
    advice: &[
        "Lower the bass on stage: the amplifier off the floor, and softer.",
        "Switch the high-pass on in every channel that has no low notes.",
        "Play kick and bass short and dry, with less level in the subwoofers.",
        "Ask a professional about absorbers for low notes.",
    ],
    backing: &[SOURCE],
    shows: "Two decay times, low and middle.",
    fooled_by: "a subwoofer that rings, or a clap with little low end",
    other_causes: "a stage with a hollow floor, or a hall of bare concrete",
    question: "Which notes of the bass hang longer than others?",
    exercise: "Burst one balloon in the quiet hall with the recorder on, ears protected, 2 minutes.",
    praise: None,
    page: Page::Lead,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

const SOURCE: Source = Source::Published(
    "Adelman-Larsen, Thompson, Gade, JASA 127, 2010 (halls for amplified music, from memory)",
);

fn observe(reading: &Reading) -> Vec<Observation> {
    let observation = |room: &Room| Observation {
        evidence: room.decay_evidence.clone(),
        ..pick::of_hall(room, vec![Some(room.low_decay_ratio.clone())], reading.session.duration_s)
    };
    reading.room.iter().map(observation).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{only, with_room};
    use crate::unit::{Fact, Unmeasured};

    fn hall(ratio: f64) -> Reading {
        with_room(|room| room.low_decay_ratio = Fact::sure(ratio, 0.8))
    }

    #[test]
    fn fires_when_low_notes_ring_longer() {
        assert_eq!(only(&RULE, &hall(1.4)), Near, "over 1.3");
        assert_eq!(only(&RULE, &hall(2.0)), Outside, "over 1.8");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &hall(1.3)), OnTarget, "1.3 is inside");
    }

    #[test]
    fn is_not_fooled_by_stops_of_the_music() {
        let stops = with_room(|room| {
            let reason = Unmeasured::NotRecorded("a clap in the quiet hall");
            room.low_decay_ratio = Fact::missing(reason);
        });
        assert!(matches!(only(&RULE, &stops), NotJudged(_)), "bass strings ring on");
    }
}
