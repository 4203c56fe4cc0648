//! Main mix clips or overshoots.
//!
//! Looks at true peak and flat tops of the recorded main mix. Never judges the loudness of the mix.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Channel, Reading, SegmentKind};
use crate::unit::{Fact, Unit};

const SOURCE: Source = Source::Published(
    "maximum -1 dBTP (EBU R 128); meter ITU-R BS.1770 annex 2; hall border common practice",
);
/// Tops below this come from a limiter or trim before the recording, in dBFS.
const BELOW_DBFS: f64 = -1.0;

pub(super) const RULE: Rule = Rule {
    id: "clip-main",
    title: "Main mix clips or overshoots",
    group: Group::Gain,
    tier: Tier::A,
    effect: 4,
    ease: 1,
    explains: &[],
    measures: "True peak of the main mix (ITU-R BS.1770 annex 2), and its flat tops.",
    limbs: &[
        Limb {
            name: "true peak",
            unit: Unit::Dbtp,
            windows: &[
                Window::near_above(-3.0, SOURCE).variant("hall"),
                Window::at_most(-3.0, -1.0, SOURCE),
            ],
        },
        Limb {
            name: "flat tops",
            unit: Unit::Count,
            windows: &[Window::at_most(0.0, 0.0, SOURCE)],
        },
    ],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards::USUAL,
    guard_text: "The whole recording; flat tops during playback are the recording's own; a hall mix is near at most without flat tops; tops below full scale speak of a limiter or trim before the recording.",
    absent: "the main mix was not recorded",
    heard: "{who} {is} at the top of its range",
    why: "Overs in the main mix distort everything at once, also in a stream.",
    advice: &[
        "Lower the main fader or the record trim.",
        "Lower the channel or group that clips before the main, low end first, if the tops stay flat.",
        "Use a limiter as safety only.",
    ],
    backing: &[SOURCE],
    shows: "List of overs with the channel that peaked at the same time.",
    fooled_by: "a record output with its own trim, or a test tone",
    other_causes: "one channel that peaks, or playback at full scale",
    question: "Which channel peaks at this moment?",
    exercise: "Bring the loudest chorus to -6 dB on the main meter by groups alone, 3 minutes.",
    praise: Some("The main mix peaked at {value}, with room to spare."),
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let Some(main) = &reading.main else { return Vec::new() };
    let ids = std::iter::once(&main.left).chain(&main.right);
    let sides: Vec<&Channel> = ids.filter_map(|id| reading.channel(id)).collect();
    let flat_at_s: Vec<f64> =
        sides.iter().flat_map(|side| flat_outside_playback(side, reading)).collect();
    let count = flat_at_s.len();
    let is_below = count > 0
        && sides
            .iter()
            .all(|side| side.flat_top_level_dbfs.value().is_none_or(|level| level < BELOW_DBFS));
    let peaks_at_s: Vec<f64> =
        sides.iter().flat_map(|side| side.top_peaks_at_s.iter().copied()).collect();
    let moments = pick::at(if count > 0 { &flat_at_s } else { &peaks_at_s });
    vec![Observation {
        evidence: moments.into_iter().take(5).collect(),
        n_events: count,
        detail: is_below.then_some("It was recorded after a limiter or trim.".into()),
        ..pick::main_mix(
            reading,
            vec![Some(main.true_peak_dbtp.clone()), Some(Fact::exact(count as f64))],
        )
    }]
}

/// Flat tops that no recording brought along: those of mastered playback pass through the desk as they are.
fn flat_outside_playback<'a>(
    side: &'a Channel,
    reading: &'a Reading,
) -> impl Iterator<Item = f64> + 'a {
    let is_playback = |at_s: f64| {
        reading.segments_of(SegmentKind::Playback).any(|segment| {
            (segment.span.start_s - EDGE_S..segment.span.end_s + EDGE_S).contains(&at_s)
        })
    };
    side.flat_tops.at_s.iter().copied().filter(move |&at_s| !is_playback(at_s))
}

/// Borders of segments are known to about a second.
const EDGE_S: f64 = 2.0;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, OnTarget, Outside};
    use crate::coach::example::{main_mix, only, with_main};
    use crate::reading::{Events, MainMix, Segment};
    use crate::unit::Span;

    fn peaking(peak_dbtp: f64, bus: &str) -> Reading {
        let mut reading =
            with_main(MainMix { true_peak_dbtp: Fact::exact(peak_dbtp), ..main_mix() });
        reading.session.main_bus = bus.to_owned();
        reading
    }

    #[test]
    fn fires_when_the_mix_peaks_above_its_border() {
        assert_eq!(only(&RULE, &peaking(-2.5, "hall")), Near, "a hall mix over -3");
        assert_eq!(only(&RULE, &peaking(-0.5, "stream")), Outside, "a stream over -1");
        let mut flat = peaking(-4.0, "hall");
        flat.channels[1].flat_tops = Events { count: 1, at_s: vec![99.0] };
        assert_eq!(only(&RULE, &flat), Outside, "flat tops");
    }

    #[test]
    fn stays_quiet_at_minus_3() {
        assert_eq!(only(&RULE, &peaking(-3.0, "hall")), OnTarget, "-3 is inside");
        assert_eq!(only(&RULE, &peaking(-3.0, "stream")), OnTarget, "-3 is inside");
    }

    #[test]
    fn is_not_fooled_by_a_hall_mix_that_only_comes_close() {
        assert_eq!(only(&RULE, &peaking(-0.2, "hall")), Near, "without flat tops near at most");
    }

    #[test]
    fn is_not_fooled_by_mastered_playback() {
        let mut reading = peaking(-4.0, "hall");
        reading.channels[1].flat_tops = Events { count: 250, at_s: vec![320.5, 321.0, 340.2] };
        reading.segments.push(Segment {
            kind: SegmentKind::Playback,
            title: String::new(),
            span: Span::new(320.0, 350.0),
            confidence: 0.9,
        });
        assert_eq!(only(&RULE, &reading), OnTarget, "the recording has them already");
    }
}
