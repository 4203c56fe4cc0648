//! No line check in the recording.
//!
//! Looks at inputs heard alone before the first song. Never speaks if the line check was before the recording.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Channel, Reading, SegmentKind};
use crate::session::{Family, Role, Tap};
use crate::unit::{Fact, Span, Unit};

/// Heard alone for so long counts, in seconds.
const ALONE_S: f64 = 2.0;
/// Fewer inputs sound alone by chance.
const MIN_INPUTS: usize = 3;
/// Time before the first song that counts, in seconds.
const BEFORE_S: f64 = 30.0 * 60.0;

pub(super) const RULE: Rule = Rule {
    id: "line-check-missing",
    title: "No line check in the recording",
    group: Group::Habits,
    tier: Tier::B,
    effect: 2,
    ease: 1,
    explains: &[],
    measures: "Share of used inputs that were heard alone for 2 s or more in the 30 minutes before the first song.",
    limbs: &[Limb {
        name: "inputs heard alone",
        unit: Unit::Percent,
        windows: &[Window::at_least(80.0, 40.0, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Raw],
    guards: Guards::USUAL,
    guard_text: "A song was found; the session does not state that the line check was before the recording; three inputs or more; the channels of one source may sound together, overheads may hear the kit.",
    absent: "no input was used, or no song was found",
    heard: "{who} {is} short of a line check",
    why: "One minute of line check finds most dead, swapped and noisy channels.",
    advice: &[
        "Listen to each input alone for 3-5 s in desk order, with the recorder running.",
        "Solo it, bring the fader to -5 dB and open it, then set the gain.",
        "Ask each player for the loudest passage once.",
        "Take a level reference with the band before the voices come in.",
    ],
    backing: &[Source::CommonPractice],
    shows: "List of inputs that were not heard alone.",
    fooled_by: "a recorder that was started after the line check",
    other_causes: "a recorder that was started late",
    question: "Was the recorder started after the line check?",
    exercise: "Run a line check of all inputs with the recorder on, against the clock, 3 minutes.",
    praise: Some("All {n} inputs were heard alone before the first song."),
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let used: Vec<&Channel> = pick::inputs(reading)
        .filter(|input| input.tap == Tap::Raw && !input.active.is_empty())
        .collect();
    let Some(song) = reading.segments_of(SegmentKind::Song).next().filter(|_| !used.is_empty())
    else {
        return Vec::new();
    };
    let before = Span::new((song.span.start_s - BEFORE_S).max(0.0), song.span.start_s);
    let alone_s = |input: &&Channel| alone_at(input, &used, reading, before);
    let heard: Vec<f64> = used.iter().filter_map(alone_s).collect();
    let missed: Vec<String> = used
        .iter()
        .filter(|input| alone_s(input).is_none())
        .map(|input| input.id.clone())
        .collect();
    let share = 100.0 * heard.len() as f64 / used.len() as f64;
    let begin_s = heard.iter().copied().fold(f64::INFINITY, f64::min);
    let end_s = heard.iter().copied().fold(0.0, f64::max) + ALONE_S;
    let observation = Observation {
        channels: missed,
        subject: Some("The recording"),
        n_events: heard.len(),
        evidence: if heard.is_empty() { Vec::new() } else { vec![Span::new(begin_s, end_s)] },
        ..Observation::of_session(vec![Some(Fact::exact(share))], reading.session.duration_s)
    };
    let is_small = used.len() < MIN_INPUTS;
    let observation = if is_small {
        observation.withheld("with so few inputs a line check says little")
    } else {
        observation
    };
    let is_earlier = reading.session.line_check_before_recording == Some(true);
    let needs_s = ALONE_S * f64::from(u32::try_from(used.len()).unwrap_or(u32::MAX));
    vec![if is_earlier {
        observation.withheld("the line check was before the recording")
    } else if before.length_s() < needs_s {
        observation
            .withheld("the recording starts too shortly before the first song for a line check")
    } else {
        observation
    }]
}

/// When an input first sounds for long enough while no other source does.
fn alone_at(input: &Channel, used: &[&Channel], reading: &Reading, before: Span) -> Option<f64> {
    let others: Vec<&Channel> = used
        .iter()
        .copied()
        .filter(|other| other.id != input.id && !is_one_source(input, other, reading))
        .collect();
    let own = input.active.iter().filter_map(|span| span.shared(before));
    let parts = own.flat_map(|span| {
        others
            .iter()
            .flat_map(|other| &other.active)
            .fold(vec![span], |parts, taken| without(&parts, *taken))
    });
    parts.filter(|part| part.length_s() >= ALONE_S).map(|part| part.start_s).next()
}

/// Whether two channels hear one source, so that they sound together even in a line check.
fn is_one_source(one: &Channel, other: &Channel, reading: &Reading) -> bool {
    let is_kit = [one, other].iter().all(|channel| channel.role.family() == Family::Drums);
    let is_paired = reading.pairs.iter().any(|pair| {
        (pair.source == one.id && pair.mic == other.id)
            || (pair.source == other.id && pair.mic == one.id)
    });
    is_paired
        || one.partner.as_ref() == Some(&other.id)
        || (is_kit && (one.role == Role::Overhead || other.role == Role::Overhead))
}

/// What is left of stretches without another.
fn without(parts: &[Span], taken: Span) -> Vec<Span> {
    let cut = |part: &Span| {
        let (before, after) = (
            Span::new(part.start_s, taken.start_s.min(part.end_s)),
            Span::new(taken.end_s.max(part.start_s), part.end_s),
        );
        [before, after].into_iter().filter(|rest| rest.length_s() > 0.0)
    };
    parts.iter().flat_map(cut).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, judged, only, session};

    /// Five inputs; each but the last `n_missed` is heard alone for 2.5 s, then all play.
    fn check(n_missed: usize) -> Reading {
        let inputs = (0..5).map(|idx| {
            let mut input = channel(idx + 1, Role::Keys);
            let begin_s = 20.0 + 5.0 * idx as f64;
            input.active = vec![Span::new(100.0, 400.0)];
            if idx + n_missed < 5 {
                input.active.insert(0, Span::new(begin_s, begin_s + 2.5));
            }
            input
        });
        session(inputs.collect())
    }

    #[test]
    fn fires_when_inputs_were_not_heard_alone() {
        assert_eq!(only(&RULE, &check(2)), Near, "60 %");
        assert_eq!(only(&RULE, &check(4)), Outside, "20 %");
    }

    #[test]
    fn stays_quiet_at_four_of_five() {
        assert_eq!(only(&RULE, &check(1)), OnTarget, "80 % is inside");
    }

    #[test]
    fn is_not_fooled_by_a_recorder_started_later() {
        let mut late = check(5);
        late.session.line_check_before_recording = Some(true);
        assert!(matches!(only(&RULE, &late), NotJudged(_)), "stated in session.toml");
    }

    #[test]
    fn is_not_fooled_by_a_recording_that_starts_with_the_song() {
        let mut late = check(5);
        let song = late.segments.iter_mut().find(|segment| segment.kind == SegmentKind::Song);
        song.unwrap().span.start_s = 8.0;
        assert!(
            matches!(only(&RULE, &late), NotJudged(_)),
            "five inputs of 2 s don't fit into 8 s"
        );
    }

    #[test]
    fn is_not_fooled_by_the_two_sides_of_one_source() {
        let mut reading = check(0);
        reading.channels[1].active = reading.channels[0].active.clone();
        reading.channels[1].partner = Some(reading.channels[0].id.clone());
        reading.channels[0].partner = Some(reading.channels[1].id.clone());
        assert_eq!(
            judged(&RULE, &reading)[0].observation.n_events,
            5,
            "left and right sound together"
        );
    }
}
