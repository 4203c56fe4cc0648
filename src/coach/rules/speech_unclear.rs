//! Spoken words hard to follow in the hall.
//!
//! Looks at what noise and decay leave of words at a hall microphone. Never calls it a speech transmission index, and never judges
//! where only one end of the range lies beyond the target.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::unit::Unit;

pub(super) const RULE: Rule = Rule {
    id: "speech-unclear",
    title: "Spoken words hard to follow in the hall",
    group: Group::Loudness,
    tier: Tier::C,
    effect: 4,
    ease: 2,
    explains: &[],
    measures: "Index of what noise alone, and noise and decay together, leave of the ups and downs of talk at the hall microphone, octaves 500 Hz to 4 kHz; both ends of the range have to lie beyond the target.",
    limbs: &[Limb {
        name: "words kept",
        unit: Unit::Ratio,
        windows: &[Window::at_least(0.60, 0.45, SOURCE)],
    }],
    combine: Combine::Worst,
    needs: &[],
    guards: Guards::USUAL,
    guard_text: "20 s of talk; a recorder that does not set its level by itself; judged only where the range lies wholly beyond the target.",
    absent: "no hall microphone was recorded",
    heard: "{who} {is} drowning words while somebody talks",
    why: "Announcements are why many people came.",
    advice: &[
        "Bring the talker closer to the microphone, and ask for slower talk.",
        "Close other microphones and effects while somebody talks.",
        "Set the high-pass of speech to 120 Hz and lift 2 to 4 kHz a little, listening for feedback.",
        "Point loudspeakers at people; a competent person moves or tilts them.",
    ],
    backing: &[SOURCE],
    shows: "The passages of talk.",
    fooled_by: "a hall microphone far from the audience, or people who talk beside it",
    other_causes: "fans or a projector, hard walls, or a talker who turns away",
    question: "Which words did the last row miss?",
    exercise: "Read ten unrelated words over the system while a helper writes them down in the last row, 3 minutes.",
    praise: None,
    page: Page::Mentor,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

const SOURCE: Source = Source::Published(
    "band audibility of ANSI S3.5-1997 with the modulation transfer of Houtgast and Steeneken (JASA 77(3), 1985); borders as the scale of IEC 60268-16 has them (fair from 0.45, good from 0.60, from memory)",
);

fn observe(reading: &Reading) -> Vec<Observation> {
    pick::of_talk(reading, |room| room.words_index.clone())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{only, with_room};
    use crate::unit::Fact;

    fn hall(low: f64, high: f64) -> Reading {
        with_room(|room| room.words_index = Fact::Range { low, high, confidence: 0.8 })
    }

    #[test]
    fn fires_when_noise_alone_drowns_words() {
        assert_eq!(only(&RULE, &hall(0.2, 0.4)), Outside, "all of it under 0.45");
        assert_eq!(only(&RULE, &hall(0.3, 0.55)), Near, "all of it under 0.60");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &hall(0.60, 0.9)), OnTarget, "0.60 is inside");
    }

    #[test]
    fn is_not_fooled_by_a_hall_that_may_be_clear_nearby() {
        assert!(matches!(only(&RULE, &hall(0.4, 1.0)), NotJudged(_)), "far away poor, near good");
        let open = with_room(|room| {
            room.words_index = Fact::AtMost { at_most: 0.8, confidence: 0.8 };
        });
        assert!(matches!(only(&RULE, &open), NotJudged(_)), "no decay time, little noise");
    }
}
