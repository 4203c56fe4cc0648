//! Main limiter or compressor works all the time.
//!
//! Looks at the crest of the main mix in songs. Never looks at playback alone, which is mastered.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::unit::Unit;

pub(super) const RULE: Rule = Rule {
    id: "main-squashed",
    title: "Main limiter or compressor works all the time",
    group: Group::Dynamics,
    tier: Tier::B,
    effect: 2,
    ease: 1,
    explains: &[],
    measures: "Share of song time in which the short-term crest of the main mix is below 8 dB.",
    limbs: &[Limb {
        name: "flattened song time",
        unit: Unit::Percent,
        windows: &[Window::near_above(
            25.0,
            Source::Published("common practice; terms of EBU Tech 3341 and 3342"),
        )],
    }],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards::USUAL,
    guard_text: "Songs only; near at most, for the gain reduction itself is not known.",
    absent: "the main mix was not recorded",
    heard: "{who} {is} flattened",
    why: "A flattened mix sounds loud, dull and tiring.",
    advice: &[
        "Lower channels or groups, or the lows of the main EQ.",
        "Use the limiter as safety only: 1-2 dB on rare peaks.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Crest trace of each song.",
    fooled_by: "a record output with its own limiter",
    other_causes: "a limiter in the record path, or dense music",
    question: "How far does the limiter's meter move in the chorus?",
    exercise: "Lower the groups until the limiter rests, and keep the loudness by ear, 3 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let Some(main) = &reading.main else { return Vec::new() };
    vec![Observation {
        evidence: main.songs.iter().take(1).map(|song| song.span).collect(),
        ..pick::main_mix(reading, vec![Some(main.squashed_percent.clone())])
    }]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget};
    use crate::coach::example::{main_mix, only, with_main};
    use crate::reading::MainMix;
    use crate::unit::{Fact, Unmeasured};

    fn squashed(percent: f64) -> Reading {
        with_main(MainMix { squashed_percent: Fact::exact(percent), ..main_mix() })
    }

    #[test]
    fn fires_when_more_than_a_quarter_is_flattened() {
        assert_eq!(only(&RULE, &squashed(30.0)), Near, "30 %");
        assert_eq!(only(&RULE, &squashed(90.0)), Near, "near at most");
    }

    #[test]
    fn stays_quiet_at_a_quarter() {
        assert_eq!(only(&RULE, &squashed(25.0)), OnTarget, "25 % is inside");
    }

    #[test]
    fn is_not_fooled_by_playback_alone() {
        let missing = Fact::missing(Unmeasured::Because("no song was found"));
        let playback = with_main(MainMix { squashed_percent: missing, ..main_mix() });
        assert!(matches!(only(&RULE, &playback), NotJudged(_)), "no song");
    }
}
