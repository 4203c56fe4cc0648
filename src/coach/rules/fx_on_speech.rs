//! Effects left on while people speak.
//!
//! Looks at returns of effects against the talkers in the mix, while people speak to the audience. Leaves out the first seconds after a song, in which its last tail hangs.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::reading::SegmentKind;
use crate::session::Role;
use crate::unit::Unit;

pub(super) const RULE: Rule = Rule {
    id: "fx-on-speech",
    title: "Effects left on while people speak",
    group: Group::Effects,
    tier: Tier::B,
    effect: 2,
    ease: 1,
    explains: &[],
    measures: "Loudness of the returns of effects in the mix minus that of the talkers, K-weighted, 3 s, in talk from 3 s after a song on.",
    limbs: &[Limb {
        name: "effect against the talker",
        unit: Unit::Lu,
        windows: &[Window::at_most(-25.0, -15.0, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards { min_active_s: 5.0, min_confidence: 0.6, ..Guards::USUAL },
    guard_text: "5 s of talk; the return was recorded; the first 3 s after a song are left out.",
    absent: "the mix could not be read back, or no return of an effect was recorded",
    heard: "{who} {is} on while people speak",
    why: "Echo makes spoken words harder to follow.",
    advice: &[
        "Make the mute of the effects the first move when a song ends.",
        "Put delay and reverb on one mute group.",
    ],
    backing: &[Source::CommonPractice],
    shows: "The times and the length.",
    fooled_by: "a spoken part inside a song, and the last tail of a song",
    other_causes: "a hall voice on purpose",
    question: "What is the first move when a song ends?",
    exercise: "Mute the effects on the last beat of five songs, 3 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let Some(mix) = &reading.mix else { return Vec::new() };
    let Some(first) = reading.with_role(&[Role::FxReturn]).next() else { return Vec::new() };
    let talk_s: f64 = reading.segments_of(SegmentKind::Talk).map(|one| one.span.length_s()).sum();
    if talk_s <= 0.0 {
        return Vec::new();
    }
    vec![Observation {
        evidence: mix.effects_in_talk.clone(),
        active_s: talk_s,
        affected_s: talk_s,
        confidence_cap: first.role_confidence,
        ..pick::through_mix(first, vec![Some(mix.effects_re_speech_lu.clone())])
    }]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, mixed, only};
    use crate::unit::{Fact, Unmeasured};

    fn wet(level_lu: f64) -> Reading {
        let mut reading = mixed(vec![channel(21, Role::Speech), channel(25, Role::FxReturn)]);
        reading.mix.as_mut().expect("it was mixed").effects_re_speech_lu =
            Fact::sure(level_lu, 0.85);
        reading
    }

    #[test]
    fn fires_when_talk_echoes() {
        assert_eq!(only(&RULE, &wet(-20.0)), Near, "over -25");
        assert_eq!(only(&RULE, &wet(-10.0)), Outside, "over -15");
    }

    #[test]
    fn stays_quiet_at_the_edge() {
        assert_eq!(only(&RULE, &wet(-25.0)), OnTarget, "-25 is inside");
    }

    #[test]
    fn is_not_fooled_by_a_mix_that_is_not_explained() {
        let mut reading = wet(-10.0);
        reading.mix.as_mut().expect("it was mixed").effects_re_speech_lu =
            Fact::missing(Unmeasured::Because("the channels explain too little of the mix"));
        assert!(matches!(only(&RULE, &reading), NotJudged(_)), "nothing is told");
    }
}
