//! Solo instrument swamps the band.
//!
//! Looks at passages without voices in which one instrument carries the melody. Tells the trainee only of those on the cue sheet.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::unit::Unit;

pub(super) const RULE: Rule = Rule {
    id: "solo-too-far",
    title: "Solo instrument swamps the band",
    group: Group::Balance,
    tier: Tier::B,
    effect: 2,
    ease: 1,
    explains: &[],
    measures: "Loudness of the instrument in the mix minus the rest, K-weighted, 3 s, in passages of 8 s or more without voices.",
    limbs: &[Limb {
        name: "solo against the rest",
        unit: Unit::Lu,
        windows: &[Window::at_most(6.0, 10.0, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards { min_active_s: 8.0, ..Guards::USUAL },
    guard_text: "8 s of the passage; without a cue only where one instrument plays that rests while voices sing, and for the mentor.",
    absent: "the mix could not be read back, or no passage without voices was found",
    heard: "{who} {is} far above the band in the solo",
    why: "Harmony and rhythm vanish behind one player.",
    advice: &[
        "Lift less: 3 dB is often enough.",
        "Check whether the player already plays louder.",
        "Bring the fader back at the end of the solo.",
    ],
    backing: &[Source::CommonPractice],
    shows: "The passage, and the fader of that channel.",
    fooled_by: "an intro without a band",
    other_causes: "a passage that is meant to be played alone",
    question: "What of the band can still be heard under this solo?",
    exercise: "Lift a solo until the bass is hard to hear, then back by half of it, 3 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    pick::solos(reading, LESS_DB, |solo| vec![Some(solo.over_rest_lu.clone())])
}

/// A solo that was lifted too far comes down by a step (common practice).
const LESS_DB: f64 = -3.0;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, OnTarget, Outside};
    use crate::coach::example::{judged, only, solo};

    #[test]
    fn fires_when_a_solo_swamps_the_band() {
        assert_eq!(only(&RULE, &solo(8.0, 4.0, true)), Near, "over 6");
        assert_eq!(only(&RULE, &solo(12.0, 6.0, true)), Outside, "over 10");
    }

    #[test]
    fn stays_quiet_at_the_edge() {
        assert_eq!(only(&RULE, &solo(6.0, 4.0, true)), OnTarget, "6 is inside");
    }

    #[test]
    fn is_not_fooled_by_a_passage_without_a_cue() {
        let judgement = &judged(&RULE, &solo(12.0, 0.0, false))[0];
        assert_eq!(
            judgement.observation.page,
            Some(Page::Mentor),
            "without a cue it is a question"
        );
    }
}
