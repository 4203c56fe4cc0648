//! Sentences of notes: times, numbers with their target, names, and words for how sure.
//!
//! Takes judgements of one rule, gives text. Never adds blame, a score or a second number.

use super::judge::{Judgement, Measured, Target};
use super::rule::{RawWording, Rule};
use crate::reading::Reading;
use crate::unit::{Fact, Span, Unit, pitch};

/// Channels named in one sentence; more are counted.
const NAMED: usize = 3;
/// Evidence shorter than this is a moment, in seconds.
const MOMENT_S: f64 = 2.0;

/// What is heard and when, over the judgements of one rule, worst first.
pub(super) fn sentence(rule: &Rule, judgements: &[&Judgement], reading: &Reading) -> String {
    let Some(worst) = judgements.first() else { return String::new() };
    let confidence = confidence(judgements);
    let names = names(judgements, reading);
    let place = worst.evidence.first().copied();
    let who = worst.observation.subject.map_or_else(|| list(&names), str::to_owned);
    let is_plural = worst.observation.subject.is_none() && names.len() > 1;
    let mut text =
        place.map_or_else(|| "Whole recording.".to_owned(), |span| format!("{}.", time(span)));
    text.push(' ');
    text.push_str(&rule.heard.replace("{who}", &who).replace("{is}", hint(confidence, is_plural)));
    if let (Some(measured), Some(target)) = (worst.measured.first(), worst.target) {
        let is_one = judgements.len() < 2 || worst.observation.subject.is_some();
        let on = if !is_one && worst.channels != judgements[1].channels {
            format!(" on {}", list(&self::names(&judgements[..1], reading)))
        } else {
            String::new()
        };
        let number = number(&measured.fact, measured.unit, &target);
        text.push_str(&format!(
            ": {} {number}{on}, target {}.",
            measured.name,
            target_text(&target)
        ));
    } else {
        text.push('.');
    }
    if let Some(detail) = &worst.observation.detail {
        text.push(' ');
        text.push_str(detail);
    }
    if let (true, RawWording::Check(before) | RawWording::MentorCheck(before)) =
        (worst.is_check, rule.raw_wording)
    {
        text.push_str(&format!(" Recorded before {before}: a check, not a finding."));
    } else if confidence < 0.8 && place.is_some() {
        text.push_str(" Please listen there.");
    }
    text
}

/// What to try, with the suggested changes filled in; a step without its number is left out.
pub(super) fn advice(rule: &Rule, judgements: &[&Judgement]) -> Vec<String> {
    let changes: Vec<f64> = judgements
        .iter()
        .filter_map(|judgement| judgement.observation.change_db.map(f64::abs))
        .collect();
    let least = changes.iter().copied().fold(f64::INFINITY, f64::min);
    let most = changes.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let changes = match changes.as_slice() {
        [] => None,
        _ if least < most => Some(format!("{least:.0} to {most:.0} dB")),
        _ => Some(format!("{most:.0} dB")),
    };
    let fill = |step: &&str| match (&changes, step.contains("{db}")) {
        (Some(changes), true) => Some(step.replace("{db}", changes)),
        (None, true) => None,
        (_, false) => Some((*step).to_owned()),
    };
    rule.advice.iter().filter_map(fill).collect()
}

/// A target in words: `-24 dBFS or more`.
pub(super) fn target_text(target: &Target) -> String {
    let unit = target.unit.symbol();
    match (target.low, target.high) {
        (Some(low), None) => format!("{}{unit} or more", plain(low)),
        (None, Some(high)) if high <= 0.0 && target.unit == Unit::Count => "none".to_owned(),
        (None, Some(high)) => format!("{}{unit} or less", plain(high)),
        (Some(low), Some(high)) => format!("{} to {}{unit}", plain(low), plain(high)),
        (None, None) => "none".to_owned(),
    }
}

/// Where to: a number and its target, as a clause: `loud level at -24 dBFS or more`.
pub(super) fn goal(measured: Option<&Measured>, target: &Target) -> String {
    let target = target_text(target);
    measured.map_or_else(|| target.clone(), |measured| format!("{} at {target}", measured.name))
}

/// A tone with the nearest note: `2500 Hz, near D sharp 7`.
pub(super) fn tone(frequency_hz: f64) -> String {
    let near = pitch::note(frequency_hz).map_or_else(String::new, |name| format!(", near {name}"));
    format!("{frequency_hz:.0} Hz{near}")
}

/// How sure, in a word: `high` from a confidence of 0.9, `good` from 0.8, `fair` from 0.7, else `low`.
pub const fn sure(confidence: f64) -> &'static str {
    match confidence {
        0.9.. => "high",
        0.8.. => "good",
        0.7.. => "fair",
        _ => "low",
    }
}

/// Confidence of several judgements: that of the least certain.
pub(super) fn confidence(judgements: &[&Judgement]) -> f64 {
    judgements.iter().map(|judgement| judgement.confidence).fold(1.0, f64::min)
}

/// A place in time: `01:24 to 01:50`, or `01:24` for a moment.
pub(super) fn time(span: Span) -> String {
    if span.length_s() < MOMENT_S {
        clock(0.5 * (span.start_s + span.end_s))
    } else {
        format!("{} to {}", clock(span.start_s), clock(span.end_s))
    }
}

/// `01:24`, or `1:02:03` from an hour on.
pub(super) fn clock(at_s: f64) -> String {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a time in a session is small and not negative"
    )]
    let whole = at_s.max(0.0) as u64;
    let (hours, minutes, seconds) = (whole / 3600, whole / 60 % 60, whole % 60);
    if hours > 0 {
        format!("{hours}:{minutes:02}:{seconds:02}")
    } else {
        format!("{minutes:02}:{seconds:02}")
    }
}

/// The verb for a confidence.
const fn hint(confidence: f64, is_plural: bool) -> &'static str {
    match (confidence, is_plural) {
        (0.9.., false) => "is",
        (0.9.., true) => "are",
        (0.8.., false) => "seems",
        (0.8.., true) => "seem",
        _ => "may be",
    }
}

/// A measured number in whole steps, finer only where rounding would hide that it lies beyond its target.
fn number(fact: &Fact, unit: Unit, target: &Target) -> String {
    let rounded = |value: f64, places: u8| {
        let scale = 10_f64.powi(places.into());
        (value * scale).round() / scale
    };
    // A border between two steps, or rounding that would carry the number to the border or across it.
    let is_finer = |value: f64, places: u8| {
        [target.low, target.high].into_iter().flatten().any(|end| {
            (rounded(end, places) - end).abs() > 1e-9
                || (rounded(value, places) - end).abs() < 1e-9
                || (rounded(value, places) < end) != (value < end)
        })
    };
    let write = |value: f64| {
        let places = match unit {
            Unit::Count => 0,
            Unit::Correlation | Unit::Ratio | Unit::Milliseconds | Unit::DbPerOctave => {
                1 + u8::from(is_finer(value, 1))
            }
            _ => u8::from(is_finer(value, 0)),
        };
        // No minus sign before a zero.
        format!("{:.*}", usize::from(places), rounded(value, places) + 0.0)
    };
    let unit = unit.symbol();
    match fact {
        Fact::Value { value, .. } => format!("{}{unit}", write(*value)),
        Fact::AtMost { at_most, .. } => format!("at most {}{unit}", write(*at_most)),
        Fact::AtLeast { at_least, .. } => format!("at least {}{unit}", write(*at_least)),
        Fact::Range { low, high, .. } => format!("{} to {}{unit}", write(*low), write(*high)),
        Fact::Missing { .. } => "not known".to_owned(),
    }
}

/// A measured number without its target.
pub(super) fn amount(measured: &Measured) -> String {
    let open = Target { low: None, high: None, unit: measured.unit, source: "" };
    number(&measured.fact, measured.unit, &open)
}

/// A border as it was stated, without needless decimals.
fn plain(value: f64) -> String {
    format!("{}", (value * 10.0).round() / 10.0)
}

/// Names of the channels of several judgements, each once, in the order of the judgements.
fn names(judgements: &[&Judgement], reading: &Reading) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for id in judgements.iter().flat_map(|judgement| &judgement.channels) {
        let name = reading.channel(id).map_or(id, |channel| &channel.name);
        if !names.contains(name) {
            names.push(name.clone());
        }
    }
    names
}

/// `A`, `A and B`, `A, B and C`, or `A and 4 more`.
pub(super) fn list(names: &[String]) -> String {
    match names {
        [] => "The recording".to_owned(),
        [only] => only.clone(),
        [first @ .., last] if names.len() <= NAMED => format!("{} and {last}", first.join(", ")),
        [first, rest @ ..] => format!("{first} and {} more", rest.len()),
    }
}
