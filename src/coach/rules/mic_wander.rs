//! Distance to the microphone changes a lot.
//!
//! Looks at the spread of phrases that moves together with their low end. Never takes musical dynamics for distance: a louder voice has less low end, a closer one more.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::unit::Unit;

/// Rank correlation from which on level and low end move together.
const TOGETHER: f64 = 0.5;

const SOURCE: Source = Source::Published(
    "common practice; near-field bass rise of pressure-gradient microphones (Eargle, The Microphone Book, from memory)",
);

pub(super) const RULE: Rule = Rule {
    id: "mic-wander",
    title: "Distance to the mic changes a lot",
    group: Group::Microphone,
    tier: Tier::C,
    effect: 2,
    ease: 1,
    explains: &["comp-none"],
    measures: "90th minus 10th percentile of the loudness of phrases, where louder phrases have more low end (112-224 Hz minus 891-1778 Hz, rank correlation of 0.5 or more).",
    limbs: &[Limb {
        name: "phrase spread",
        unit: Unit::Lu,
        windows: &[Window::at_most(8.0, 14.0, SOURCE)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Raw],
    guards: Guards::USUAL,
    guard_text: "20 s of the voice and eight phrases; silent where the low end does not grow with the level, for then it is music and not distance.",
    absent: "no voice was recorded with a microphone",
    heard: "{who} {is} near and far by turns",
    why: "A compressor then works on distance and not on singing.",
    advice: &[
        "Show the singer the sweet spot; ask for small moves on big notes only.",
        "Set the stand to mouth height and mark the place for the feet.",
        "Compress gently after that.",
    ],
    backing: &[SOURCE],
    shows: "Level of phrases over their low end, three phrases named.",
    fooled_by: "a change of key or register, or a second singer on the same microphone",
    other_causes: "a stand that is too low or too high, or a singer who plays an instrument as well",
    question: "Where was the mouth in the loudest and in the softest phrase?",
    exercise: "Sing one line at two, four and eight finger widths and listen to the low end, 3 minutes.",
    praise: None,
    page: Page::Mentor,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    reading
        .with_role(pick::SOLO_VOICES)
        .filter(|voice| !voice.is_line)
        .map(|voice| {
            let is_together =
                voice.low_end_correlation.value().is_some_and(|rank| rank >= TOGETHER);
            pick::raw_by_role(voice, vec![Some(voice.phrase_spread_lu.clone())]).doubted(
                !is_together,
                "its low end does not grow with its level, as it would with a closer mouth",
            )
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

    fn outcome(spread_lu: f64, correlation: f64) -> Outcome {
        let mut voice = channel(17, Role::LeadVocal);
        voice.phrase_spread_lu = Fact::exact(spread_lu);
        voice.low_end_correlation = Fact::exact(correlation);
        only(&RULE, &session(vec![voice]))
    }

    #[test]
    fn fires_when_loud_phrases_are_the_close_ones() {
        assert_eq!(outcome(8.1, 0.5), Near, "over 8");
        assert_eq!(outcome(14.1, 0.9), Outside, "over 14");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(outcome(8.0, 0.9), OnTarget, "8 is inside");
    }

    #[test]
    fn is_not_fooled_by_musical_dynamics() {
        assert!(matches!(outcome(16.0, 0.49), NotJudged(_)), "not together");
        assert!(matches!(outcome(16.0, -0.8), NotJudged(_)), "louder is brighter: a voice at work");
    }
}
