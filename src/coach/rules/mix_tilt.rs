//! Overall tone is out of the usual range.
//!
//! Looks at the slope of the main mix from 100 Hz to 4 kHz. Never speaks to the trainee as long as only published slopes are at hand.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::unit::Unit;

pub(super) const RULE: Rule = Rule {
    id: "mix-tilt",
    title: "Overall tone is out of the usual range",
    group: Group::Tone,
    tier: Tier::B,
    effect: 2,
    ease: 2,
    explains: &[],
    measures: "Slope of the third-octave levels of the main mix from 100 Hz to 4 kHz, songs.",
    limbs: &[Limb {
        name: "slope",
        unit: Unit::DbPerOctave,
        windows: &[Window::between(
            [-3.5, -1.0],
            [-5.0, 0.0],
            Source::Published(
                "about -2 dB/octave in thirds (Pestana et al. 2013, from memory); general window, not the team's own",
            ),
        )],
    }],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards::USUAL,
    guard_text: "Songs only. The general window is used, so the finding goes to the mentor.",
    absent: "the main mix was not recorded",
    heard: "{who} {is} tilted from the usual slope",
    why: "A steady tilt to boom or to sizzle tires the audience.",
    advice: &[
        "Compare by ear with a good night of the team at the same level.",
        "Look at the channels that feed the odd range before touching the main EQ.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Spectrum of the main mix over the window.",
    fooled_by: "other songs or players than usual, or a small hall whose stage is missing from the desk's mix",
    other_causes: "loud cymbals in many microphones, or low end from many channels",
    question: "Did the hall sound like this as well?",
    exercise: "Tilt the main EQ by 3 dB either way and name the channels that change most, 3 minutes.",
    praise: None,
    page: Page::Mentor,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let Some(main) = &reading.main else { return Vec::new() };
    vec![Observation {
        evidence: main.songs.iter().take(1).map(|song| song.span).collect(),
        ..pick::main_mix(reading, vec![Some(main.tilt_db_per_octave.clone())])
    }]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{main_mix, only, with_main};
    use crate::reading::MainMix;
    use crate::unit::{Fact, Unmeasured};

    fn tilted(slope: f64) -> Reading {
        with_main(MainMix { tilt_db_per_octave: Fact::exact(slope), ..main_mix() })
    }

    #[test]
    fn fires_when_the_slope_leaves_the_window() {
        assert_eq!(only(&RULE, &tilted(-4.0)), Near, "dark");
        assert_eq!(only(&RULE, &tilted(0.5)), Outside, "rising");
    }

    #[test]
    fn stays_quiet_at_both_ends_of_the_window() {
        assert_eq!(only(&RULE, &tilted(-3.5)), OnTarget, "-3.5 is inside");
        assert_eq!(only(&RULE, &tilted(-1.0)), OnTarget, "-1 is inside");
    }

    #[test]
    fn is_not_fooled_by_talk_without_songs() {
        let missing = Fact::missing(Unmeasured::Because("no song was found"));
        let talk = with_main(MainMix { tilt_db_per_octave: missing, ..main_mix() });
        assert!(matches!(only(&RULE, &talk), NotJudged(_)), "no song, no slope");
    }
}
