//! Phrases that all outputs share: what was recorded, which channel, how far off target.
//!
//! Takes facts and judgements, gives clauses without full stop. Never decides what is said, only how it is put.

use super::{number, text};
use crate::coach::{Advice, Excerpt, Measured, Outcome, Severity, Target};
use crate::reading::{Channel, Reading, SegmentKind};
use crate::session::{Role, Tap};

/// The most columns that a channel's name takes in a phrase.
const NAME_WIDTH: usize = 24;

/// The most columns that a song's title takes in a phrase.
const TITLE_WIDTH: usize = 40;

/// The most channels that a phrase names one by one.
const MOST_NAMED: usize = 6;

/// The most segments that are listed one by one.
const MOST_SEGMENTS: usize = 8;

/// What is said of a focus that stays.
pub const KEPT: &str =
    "It was the focus before, and stays it until it was on target in two sessions running.";

/// Shape and word for a finding.
pub const fn severity(severity: Severity) -> &'static str {
    match severity {
        Severity::Amber => "◇ near",
        Severity::Red => "◆ outside",
    }
}

/// Shape and word for any outcome.
pub const fn outcome(outcome: &Outcome) -> &'static str {
    match outcome {
        Outcome::OnTarget => "· on target",
        Outcome::Near => severity(Severity::Amber),
        Outcome::Outside => severity(Severity::Red),
        Outcome::NotJudged(_) => "  not judged",
    }
}

/// Number and name of a channel, the name within so many columns: `17 LV`.
pub fn named(channel: &Channel, max_width: usize) -> String {
    format!("{} {}", channel.number, text::fitted(&channel.name, max_width))
}

/// Number and name of each channel, the rest counted: `17 LV, 18 BV 1 and 3 more`; empty for the whole session.
pub fn channels(reading: &Reading, ids: &[String]) -> String {
    let named = |id: &String| match reading.channel(id) {
        Some(channel) => named(channel, NAME_WIDTH),
        None => text::fitted(id, NAME_WIDTH),
    };
    let n_named = if ids.len() > MOST_NAMED { MOST_NAMED - 1 } else { ids.len() };
    let mut names: Vec<String> = ids[..n_named].iter().map(named).collect();
    if ids.len() > n_named {
        names.push(format!("{} more", ids.len() - n_named));
    }
    text::listed(&names)
}

/// A measured number with its name and channel: `loud level -35.2 dBFS (17 LV)`.
pub fn measured(reading: &Reading, measured: &Measured) -> String {
    let number = number::fact(&measured.fact, measured.unit);
    let who = channels(reading, &measured.channels);
    if who.is_empty() {
        format!("{} {number}", measured.name)
    } else {
        format!("{} {number} ({who})", measured.name)
    }
}

/// A target with its source: `-24.0 to -12.0 dBFS (common practice)`.
pub fn target(target: &Target) -> String {
    format!("{} ({})", number::range(target.low, target.high, target.unit), target.source)
}

/// What was recorded: `24 inputs before processing, the main mix, no hall microphone`.
pub fn recorded(reading: &Reading) -> String {
    let count = |tap: Tap| reading.channels.iter().filter(|channel| channel.tap == tap).count();
    let inputs = |n: usize, state: &str| format!("{} {state}", text::counted(n, "channel"));
    let mut parts = Vec::new();
    if count(Tap::Raw) > 0 {
        parts.push(inputs(count(Tap::Raw), "before processing"));
    }
    if count(Tap::Processed) > 0 {
        parts.push(inputs(count(Tap::Processed), "after processing"));
    }
    if count(Tap::Monitor) > 0 {
        parts.push(text::counted(count(Tap::Monitor), "monitor track"));
    }
    if count(Tap::Effects) > 0 {
        parts.push(text::counted(count(Tap::Effects), "effects track"));
    }
    parts.push(if reading.main.is_some() { "the main mix" } else { "no main mix" }.to_owned());
    let has_room = reading.with_role(&[Role::Room]).next().is_some();
    parts.push(if has_room { "a hall microphone" } else { "no hall microphone" }.to_owned());
    parts.join(", ")
}

/// The course of the session: each segment with its begin, or the time of each kind where there are many.
pub fn course(reading: &Reading) -> String {
    const KINDS: [SegmentKind; 7] = [
        SegmentKind::Song,
        SegmentKind::Talk,
        SegmentKind::Playback,
        SegmentKind::LineCheck,
        SegmentKind::BandTalk,
        SegmentKind::OtherPlaying,
        SegmentKind::Silence,
    ];
    if reading.segments.len() <= MOST_SEGMENTS {
        let one = |segment: &crate::reading::Segment| {
            let name = if segment.title.is_empty() {
                segment.kind.word().to_owned()
            } else {
                text::fitted(&segment.title, TITLE_WIDTH)
            };
            format!("{} {name}", number::clock(segment.span.start_s))
        };
        return reading.segments.iter().map(one).collect::<Vec<_>>().join(" · ");
    }
    let total = |kind: SegmentKind| {
        let of_kind: Vec<f64> =
            reading.segments_of(kind).map(|segment| segment.span.length_s()).collect();
        let length = number::length(of_kind.iter().sum());
        (!of_kind.is_empty()).then(|| format!("{} × {}, {length}", of_kind.len(), kind.word()))
    };
    KINDS.into_iter().filter_map(total).collect::<Vec<_>>().join(" · ")
}

/// Date, operator, place and length, as far as they are known.
pub fn headed(reading: &Reading) -> String {
    let session = &reading.session;
    let stated = [&session.date, &session.place, &session.operator];
    let mut parts: Vec<String> =
        stated.into_iter().flatten().map(|part| text::fitted(part, NAME_WIDTH)).collect();
    parts.push(number::length(session.duration_s));
    parts.push(if session.is_rehearsal { "rehearsal" } else { "performance" }.to_owned());
    parts.join(" · ")
}

/// What marks changed, a sentence each: findings that are not shown, rules that are trusted less.
pub fn marked(advice: &Advice) -> Vec<String> {
    let mut sentences = Vec::new();
    if !advice.hidden.is_empty() {
        let n_hidden = text::counted(advice.hidden.len(), "finding");
        sentences.push(format!("not shown, as on purpose or not ours: {n_hidden}"));
    }
    if !advice.demoted.is_empty() {
        let rules = advice.demoted.join(", ");
        sentences.push(format!(
            "shown with more care, as marks said too often that it does not fit: {rules}"
        ));
    }
    sentences
}

/// What a passage is: `as it was`, or what was changed in it.
pub fn excerpt(excerpt: &Excerpt) -> String {
    match &excerpt.change {
        None => "as it was".to_owned(),
        Some(change) => format!("with {change}, as loud as before"),
    }
}

/// All passages of a note, with their files.
pub fn excerpts(excerpts: &[Excerpt]) -> String {
    let one = |passage: &Excerpt| format!("{} ({})", passage.file, excerpt(passage));
    excerpts.iter().map(one).collect::<Vec<String>>().join("; ")
}
