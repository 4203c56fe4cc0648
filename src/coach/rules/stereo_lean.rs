//! Main mix leans to one side.
//!
//! Looks at the loudness of left against right. Never judges a recording whose other side is silent.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::unit::Unit;

/// Leaning for less time than this is near at most, in seconds.
const LONG_S: f64 = 120.0;
/// A side without a peak above this is silent, in dBFS.
const SILENT_DBFS: f64 = -70.0;

pub(super) const RULE: Rule = Rule {
    id: "stereo-lean",
    title: "Main mix leans to one side",
    group: Group::Balance,
    tier: Tier::A,
    effect: 2,
    ease: 1,
    explains: &[],
    measures: "Loudness of the left side minus that of the right, median over 60 s blocks.",
    limbs: &[Limb {
        name: "lean",
        unit: Unit::Lu,
        windows: &[
            Window::near_above(1.5, Source::CommonPractice).variant("short"),
            Window::at_most(1.5, 3.0, Source::CommonPractice),
        ],
    }],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards::USUAL,
    guard_text: "Both sides carry sound; outside only if it leans by more than 3 LU for more than 2 minutes.",
    absent: "no stereo main mix was recorded",
    heard: "{who} {is} leaning to one side",
    why: "Half the hall hears another mix.",
    advice: &[
        "Check the balance control of the main and its cables.",
        "Look for one loud panned channel.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Trace of the difference, and the channel with the strongest pull.",
    fooled_by: "a mono recording on one side, or two sides recorded at different trim",
    other_causes: "different trim of the two recorded sides",
    question: "Do the meters of left and right agree on a centred voice?",
    exercise: "Play one centred voice and match both sides by ear and meter, 2 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let Some(main) = reading.main.as_ref().filter(|main| main.right.is_some()) else {
        return Vec::new();
    };
    let has_sound = |id: &String| {
        let peak = reading.channel(id).and_then(|side| side.top_peak_dbfs.value());
        peak.is_some_and(|peak_dbfs| peak_dbfs > SILENT_DBFS)
    };
    let lean = pick::map(&main.lean_lu, f64::abs);
    let observation = Observation {
        variant: if main.lean_s > LONG_S { "long" } else { "short" },
        affected_s: main.lean_s,
        ..pick::main_mix(reading, vec![Some(lean)])
    };
    let is_whole = std::iter::once(&main.left).chain(&main.right).all(has_sound);
    vec![if is_whole {
        observation
    } else {
        observation.withheld("one side of the main mix is silent")
    }]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{main_mix, only, with_main};
    use crate::reading::MainMix;
    use crate::unit::{Fact, Unmeasured};

    fn leaning(lean_lu: f64, lean_s: f64) -> Reading {
        with_main(MainMix { lean_lu: Fact::exact(lean_lu), lean_s, ..main_mix() })
    }

    #[test]
    fn fires_when_one_side_is_louder() {
        assert_eq!(only(&RULE, &leaning(-2.0, 0.0)), Near, "2 LU to the right");
        assert_eq!(only(&RULE, &leaning(4.0, 121.0)), Outside, "4 LU for more than 2 minutes");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &leaning(1.5, 0.0)), OnTarget, "1.5 LU is inside");
    }

    #[test]
    fn is_not_fooled_by_a_short_lean_or_a_silent_side() {
        assert_eq!(only(&RULE, &leaning(4.0, 120.0)), Near, "2 minutes or less");
        let mut mono = leaning(40.0, 600.0);
        mono.channels[1].top_peak_dbfs = Fact::missing(Unmeasured::Silent);
        assert!(matches!(only(&RULE, &mono), NotJudged(_)), "one side was not recorded");
    }
}
