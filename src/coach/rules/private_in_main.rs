//! Click, cue or talkback reaches the audience.
//!
//! Looks at how loud click, timecode and talkback are in the main mix while they sound. A leak through headphones is no routing: the channel itself has to be in the mix.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::session::Role;
use crate::unit::Unit;

pub(super) const RULE: Rule = Rule {
    id: "private-in-main",
    title: "Click, cue or talkback reaches the audience",
    group: Group::Feedback,
    tier: Tier::A,
    effect: 3,
    ease: 1,
    explains: &[],
    measures: "Loudness of the click, timecode or talkback channel in the mix minus that of the whole mix, while it sounds.",
    limbs: &[Limb {
        name: "level in the mix",
        unit: Unit::Lu,
        windows: &[Window::at_most(-50.0, -30.0, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards { min_active_s: 3.0, min_confidence: 0.6, ..Guards::USUAL },
    guard_text: "3 s of it; only what enters by its own channel, not what leaks from headphones.",
    absent: "the mix could not be read back, or no click or talkback reaches it",
    heard: "{who} {is} in the mix",
    why: "The audience hears the count-in or private talk.",
    advice: &[
        "Route click and talkback to ears only: check the main assign button.",
        "Keep a mute group that stays muted in the hall.",
    ],
    backing: &[Source::CommonPractice],
    shows: "The times.",
    fooled_by: "a click that leaks from headphones into a microphone",
    other_causes: "a count-in that is meant to be heard",
    question: "Where does this channel go besides the ears?",
    exercise: "Follow the click from its input to every output it feeds, 3 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    pick::in_mix(reading, &[Role::Click, Role::Timecode, Role::Talkback])
        .map(|(channel, in_mix)| Observation {
            evidence: Vec::new(),
            ..pick::through_mix(channel, vec![Some(in_mix.re_mix_lu.clone())])
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, OnTarget, Outside};
    use crate::coach::example::{channel, judged, mixed, only};
    use crate::unit::Fact;

    fn leaking(level_lu: f64) -> Reading {
        let mut reading = mixed(vec![channel(24, Role::Click)]);
        reading.mix.as_mut().expect("it was mixed").channels[0].re_mix_lu =
            Fact::sure(level_lu, 0.9);
        reading
    }

    #[test]
    fn fires_when_the_click_is_heard() {
        assert_eq!(only(&RULE, &leaking(-40.0)), Near, "over -50");
        assert_eq!(only(&RULE, &leaking(-20.0)), Outside, "over -30");
    }

    #[test]
    fn stays_quiet_at_the_edge() {
        assert_eq!(only(&RULE, &leaking(-50.0)), OnTarget, "-50 is inside");
    }

    #[test]
    fn is_not_fooled_by_a_click_that_is_not_in_the_mix() {
        let mut reading = leaking(-20.0);
        reading.mix.as_mut().expect("it was mixed").channels[0].is_in_mix = false;
        assert!(judged(&RULE, &reading).is_empty(), "a leak is no routing");
    }
}
