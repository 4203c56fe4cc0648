//! Files do not line up.
//!
//! Looks at rates and lengths of the files, and at the clocks of further recorders. Never counts the drift of a recorder in the hall, nor that of
//! a main mix, which is read by its own clock.

use crate::coach::rule::{
    Combine, Group, Guards, Limb, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Reading, Recorder};
use crate::unit::{Fact, Unit};

const SOURCE: Source = Source::Computed(
    "44.1 kHz read as 48 kHz is 0.919 of the length (computed); borders common practice",
);

/// Quotients of lengths that one clock explains.
const ONE_CLOCK: std::ops::RangeInclusive<f64> = 0.95..=1.05;

pub(super) const RULE: Rule = Rule {
    id: "files-misfit",
    title: "Files do not line up",
    group: Group::Recording,
    tier: Tier::A,
    effect: 2,
    ease: 1,
    explains: &[],
    measures: "Largest difference between the lengths of channels, mixed sample rates, a quotient of lengths that speaks of two clocks, and how far the clock of a second recorder of channels drifts over its take.",
    limbs: &[
        Limb {
            name: "difference of lengths",
            unit: Unit::Seconds,
            windows: &[Window::at_most(0.1, 2.0, SOURCE)],
        },
        Limb {
            name: "mixed rates or clocks",
            unit: Unit::Count,
            windows: &[Window::at_most(0.0, 0.0, SOURCE)],
        },
        Limb {
            name: "drift over the take",
            unit: Unit::Milliseconds,
            windows: &[Window::at_most(1.0, 10.0, SOURCE)],
        },
    ],
    combine: Combine::Worst,
    needs: &[],
    guards: Guards { min_active_s: 0.0, min_events: 0, ..Guards::USUAL },
    guard_text: "The whole recording; the drift of a recorder in the hall and of a main mix that is read by its own clock does not count, that of another recorder only beyond what air and people explain and where two sources bear it out.",
    absent: "no channel was recorded",
    heard: "{who} {is} made of files that do not line up",
    why: "Rules about time would be misled, so they rest.",
    advice: &["Use one recorder, one clock and one rate for all.", "Copy whole takes, not parts."],
    backing: &[Source::CommonPractice],
    shows: "Table of files.",
    fooled_by: "a separate recorder in the hall; several people who walk alike through the whole take",
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
    let is_wrong_clock = session.clock_ratio.is_some_and(|ratio| !ONE_CLOCK.contains(&ratio));
    let n_mixed = u8::from(session.mixed_rates) + u8::from(is_wrong_clock);
    let facts = vec![
        Some(Fact::exact(session.length_spread_s)),
        Some(Fact::exact(f64::from(n_mixed))),
        None,
    ];
    let whole = Observation {
        subject: Some("The recording"),
        ..Observation::of_session(facts, session.duration_s)
    };
    let not_in_step = reading.recorders.iter().filter(|one| !one.is_in_hall);
    let of_recorder = |one: &Recorder| Observation {
        channels: one.channels.clone(),
        ..Observation::of_session(vec![None, None, Some(size_ms(one))], session.duration_s)
    };
    std::iter::once(whole).chain(not_in_step.map(of_recorder)).collect()
}

/// How large a drift is over the take, with what may be more or less.
fn size_ms(recorder: &Recorder) -> Fact {
    let more_or_less = recorder.smallest_ms.unwrap_or(0.0);
    match recorder.drift_ms {
        Fact::Value { value, confidence } => Fact::Range {
            low: (value.abs() - more_or_less).max(0.0),
            high: value.abs() + more_or_less,
            confidence,
        },
        Fact::Range { low, high, confidence } => {
            Fact::AtMost { at_most: low.abs().max(high.abs()), confidence }
        }
        ref other => other.clone(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome;
    use crate::coach::Outcome::{Near, OnTarget, Outside};
    use crate::coach::example::{channel, judged, only, session};
    use crate::session::Role;
    use crate::unit::Unmeasured;

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

    /// Files that line up, and a further recorder.
    fn with_clock(is_in_hall: bool, drift_ms: Fact) -> Reading {
        let mut reading = files(0.0, false, None);
        reading.recorders = vec![Recorder {
            channels: vec!["ch01".to_owned()],
            is_in_hall,
            drift_ppm: Fact::exact(20.0),
            drift_ms,
            smallest_ppm: Some(0.5),
            smallest_ms: Some(0.3),
            n_sources: 4,
        }];
        reading
    }

    /// Outcomes of the files as a whole and of the recorder.
    fn both(reading: &Reading) -> Vec<Outcome> {
        judged(&RULE, reading).into_iter().map(|one| one.outcome).collect()
    }

    #[test]
    fn fires_when_a_second_recorder_drifts() {
        let drifts = |ms: f64| both(&with_clock(false, Fact::sure(ms, 0.9)));
        assert_eq!(drifts(4.0), [OnTarget, Near], "4 ms");
        assert_eq!(drifts(-12.0), [OnTarget, Outside], "12 ms, slow");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &files(0.1, false, None)), OnTarget, "0.1 s is inside");
        let edge = both(&with_clock(false, Fact::sure(0.7, 0.9)));
        assert_eq!(edge, [OnTarget, OnTarget], "0.4 to 1.0 ms are inside");
        let unclear = both(&with_clock(false, Fact::sure(1.2, 0.9)));
        assert!(!matches!(unclear[1], Near | Outside), "0.9 to 1.5 ms: {unclear:?}");
        let range = Fact::Range { low: -0.2, high: 0.4, confidence: 0.9 };
        assert_eq!(both(&with_clock(false, range)), [OnTarget, OnTarget], "none was found");
    }

    #[test]
    fn is_not_fooled_by_a_recorder_in_the_hall_nor_by_a_single_source() {
        let hall = both(&with_clock(true, Fact::sure(9.0, 0.9)));
        assert_eq!(hall, [OnTarget], "a clock of its own is expected there");
        let reading = with_clock(false, Fact::sure(12.0, 0.6));
        let one = judged(&RULE, &reading).remove(1);
        assert!(one.confidence < RULE.tier.floor(), "one source is no note: {one:?}");
        let reason = Unmeasured::Because("lags of the sound that it shares follow no line");
        let unknown = both(&with_clock(false, Fact::missing(reason)));
        assert!(matches!(unknown[1], Outcome::NotJudged(_)), "{unknown:?}");
    }

    #[test]
    fn is_not_fooled_by_a_recorder_that_drifts_a_little() {
        assert_eq!(only(&RULE, &files(0.0, false, Some(1.000_018))), OnTarget, "18 ppm");
    }
}
