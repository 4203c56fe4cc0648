//! Files do not line up.
//!
//! Looks at rates and lengths of the files. Never counts the drift of a separate recorder that was corrected.

use crate::coach::rule::{
    Combine, Group, Guards, Limb, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::unit::{Fact, Unit};

const SOURCE: Source = Source::Computed(
    "44.1 kHz read as 48 kHz is 0.919 of the length (computed); borders common practice",
);

pub(super) const RULE: Rule = Rule {
    id: "files-misfit",
    title: "Files do not line up",
    group: Group::Recording,
    tier: Tier::A,
    effect: 2,
    ease: 1,
    explains: &[],
    measures: "Largest difference between the lengths of channels, mixed sample rates, and a quotient of lengths that speaks of two clocks.",
    limbs: &[
        Limb {
            name: "difference of lengths",
            unit: Unit::Seconds,
            windows: &[Window::at_most(0.1, 2.0, SOURCE)],
        },
        Limb {
            name: "mixed rates",
            unit: Unit::Count,
            windows: &[Window::at_most(0.0, 0.0, SOURCE)],
        },
        Limb {
            name: "quotient of lengths",
            unit: Unit::Ratio,
            windows: &[Window::between([0.95, 1.05], [0.95, 1.05], SOURCE)],
        },
    ],
    combine: Combine::Worst,
    needs: &[],
    guards: Guards { min_active_s: 0.0, min_events: 0, ..Guards::USUAL },
    guard_text: "The whole recording; a separate recorder in the hall is aligned first.",
    absent: "no channel was recorded",
    heard: "{who} {is} made of files that do not line up",
    why: "Rules about time would be misled, so they rest.",
    advice: &["Use one recorder, one clock and one rate for all.", "Copy whole takes, not parts."],
    backing: &[Source::CommonPractice],
    shows: "Table of files.",
    fooled_by: "a separate recorder in the hall",
    other_causes: "a take that was cut or copied in part",
    question: "Which device wrote these files?",
    exercise: "Copy one take, compare the lengths of all files, and note the rate, 5 minutes.",
    praise: None,
    page: Page::Lead,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    if reading.channels.is_empty() {
        return Vec::new();
    }
    let session = &reading.session;
    let facts = vec![
        Some(Fact::exact(session.length_spread_s)),
        Some(Fact::exact(f64::from(u8::from(session.mixed_rates)))),
        session.clock_ratio.map(Fact::exact),
    ];
    vec![Observation {
        subject: Some("The recording"),
        ..Observation::of_session(facts, session.duration_s)
    }]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, OnTarget, Outside};
    use crate::coach::example::{channel, only, session};
    use crate::session::Role;

    fn files(spread_s: f64, mixed: bool, ratio: Option<f64>) -> Reading {
        let mut reading = session(vec![channel(1, Role::Kick)]);
        reading.session.length_spread_s = spread_s;
        reading.session.mixed_rates = mixed;
        reading.session.clock_ratio = ratio;
        reading
    }

    #[test]
    fn fires_when_files_do_not_line_up() {
        assert_eq!(only(&RULE, &files(0.5, false, None)), Near, "half a second apart");
        assert_eq!(only(&RULE, &files(0.0, true, None)), Outside, "mixed rates");
        assert_eq!(only(&RULE, &files(0.0, false, Some(48.0 / 44.1))), Outside, "a wrong clock");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &files(0.1, false, None)), OnTarget, "0.1 s is inside");
    }

    #[test]
    fn is_not_fooled_by_a_recorder_that_drifts_a_little() {
        assert_eq!(only(&RULE, &files(0.0, false, Some(1.000_018))), OnTarget, "18 ppm");
    }
}
