//! No line check in the recording.
//!
//! Looks at inputs heard alone before the first song. Never speaks if the line check was before the recording.

use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Reading, SegmentKind};
use crate::unit::Unit;

/// Heard alone for so long counts, in seconds.
const ALONE_S: f64 = 2.0;
/// A recorder that starts less than this before the first song was started for the song, in seconds.
const LEAST_BEFORE_S: f64 = 60.0;
/// Fewer inputs sound alone by chance.
const MIN_INPUTS: usize = 3;

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
    guard_text: "A song was found; the session does not state that the line check was before the recording; a minute or more before the first song; three inputs or more; the channels of one source may sound together, overheads may hear the kit.",
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
    let check = &reading.line_check;
    let n_used = check.n_heard + check.missing.len();
    let Some(song) = reading.segments_of(SegmentKind::Song).next().filter(|_| n_used >= MIN_INPUTS)
    else {
        return Vec::new();
    };
    let observation = Observation {
        channels: check.missing.clone(),
        subject: Some("The recording"),
        n_events: check.n_heard,
        evidence: check.evidence.clone(),
        ..Observation::of_session(
            vec![Some(check.heard_percent.clone())],
            reading.session.duration_s,
        )
    };
    let needs_s = ALONE_S * f64::from(u32::try_from(n_used).unwrap_or(u32::MAX));
    vec![if reading.session.line_check_before_recording == Some(true) {
        observation.withheld("the line check was before the recording")
    } else if song.span.start_s < needs_s.max(LEAST_BEFORE_S) {
        observation
            .withheld("the recording starts too shortly before the first song for a line check")
    } else {
        observation
    }]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, only, session};
    use crate::reading::LineCheck;
    use crate::session::Role;
    use crate::unit::{Fact, Span};

    /// Five used inputs, of which so many were not heard alone.
    fn check(n_missed: u8) -> Reading {
        let mut reading = session((1..=5).map(|number| channel(number, Role::Keys)).collect());
        reading.line_check = LineCheck {
            heard_percent: Fact::exact(20.0 * f64::from(5 - n_missed)),
            n_heard: usize::from(5 - n_missed),
            missing: (0..n_missed).map(|number| format!("ch{:02}", number + 1)).collect(),
            evidence: vec![Span::new(2.0, 14.0)],
        };
        for segment in &mut reading.segments {
            segment.span.start_s = segment.span.start_s.max(70.0);
        }
        reading
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
        for segment in &mut late.segments {
            segment.span.start_s = 50.0;
        }
        assert!(matches!(only(&RULE, &late), NotJudged(_)), "50 s before the song");
    }
}
