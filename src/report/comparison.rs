//! What changed between two reviews, as text for a terminal or a pipe, and as JSON.
//!
//! Takes a comparison, gives text. Never adds a judgement of its own.

use std::fmt::Write as _;

use super::look::Look;
use super::{number, text};
use crate::coach::{Measured, Target};
use crate::comparison::{Comparison, Course, Evening, Finding, Moved};
use crate::unit::{Fact, Unit};

/// Columns of a channel's name, and of other names.
const NAME_WIDTH: usize = 24;
const LONG_WIDTH: usize = 40;

/// What belongs above every comparison.
pub const ONE_STEP: &str = "One evening against one other: after a bad night the next is better anyway. \
    What gets steadier shows over six evenings or more (deskside habits).";

/// The comparison as tables.
pub fn table(look: Look, comparison: &Comparison) -> String {
    let mut out = String::new();
    let _ = writeln!(out, "{}", look.heading("What changed"));
    for (word, evening) in [("old  ", &comparison.then), ("new  ", &comparison.now)] {
        out.push_str(&text::paragraph(word, &headed(evening), look.width()));
    }
    out.push_str(&text::paragraph("", ONE_STEP, look.width()));
    if !comparison.differences.is_empty() {
        let _ = writeln!(out, "\n{}", look.heading("Not alike in"));
        for difference in &comparison.differences {
            out.push_str(&text::paragraph(" ! ", &text::plain(difference), look.width()));
        }
    }
    let _ = writeln!(out, "\n{}", look.heading("Findings"));
    findings(&mut out, look, &comparison.findings);
    let _ = writeln!(out, "\n{}", look.heading("Numbers that moved"));
    moved(&mut out, look, &comparison.moved);
    out.push_str(&text::paragraph("", &summary(comparison), look.width()));
    out
}

/// Date and name of an evening.
pub fn headed(evening: &Evening) -> String {
    let parts = [evening.date.as_deref(), Some(evening.name.as_str())];
    let parts: Vec<String> =
        parts.into_iter().flatten().map(|part| text::fitted(part, LONG_WIDTH)).collect();
    parts.join(" · ")
}

/// How much of what was compared moved.
pub fn summary(comparison: &Comparison) -> String {
    let compared = text::counted(comparison.n_compared, "number");
    match comparison.moved.len() {
        0 => format!("{compared} compared; none moved by more than it is sure of."),
        n_moved => format!(
            "{compared} compared; {n_moved} moved by more than {} sure of.",
            if n_moved == 1 { "it is" } else { "they are" }
        ),
    }
}

fn findings(out: &mut String, look: Look, findings: &[Finding]) {
    if findings.is_empty() {
        out.push_str("None in either review.\n");
        return;
    }
    let mut table = look.table();
    table.set_header(["", "finding", "channel", "then", "now", "target"]);
    for course in Course::ALL {
        for finding in findings.iter().filter(|finding| finding.course == course) {
            // Where one number decides both, its name stands beside the title once.
            let (named, told): (String, fn(Option<&Measured>) -> String) = match names(finding)[..]
            {
                [name] => (format!("{}\n({name})", finding.title), figure),
                _ => (finding.title.to_owned(), amount),
            };
            let row = [
                look.strong(course.word()),
                look.accent(&named),
                comfy_table::Cell::new(channels(finding)),
                comfy_table::Cell::new(told(finding.then.as_ref())),
                comfy_table::Cell::new(told(finding.now.as_ref())),
                comfy_table::Cell::new(target(finding.target.as_ref())),
            ];
            table.add_row(row);
        }
    }
    let _ = writeln!(out, "{}", table.trim_fmt());
}

/// The channels of a finding; `whole session` where it names none.
pub fn channels(finding: &Finding) -> String {
    if finding.channels.is_empty() {
        return "whole session".to_owned();
    }
    let names: Vec<String> =
        finding.channels.iter().map(|name| text::fitted(name, NAME_WIDTH)).collect();
    text::listed(&names)
}

/// Names of the numbers that decide a finding, then and now; one where both are decided by the same.
fn names(finding: &Finding) -> Vec<&'static str> {
    let mut names: Vec<&str> =
        [&finding.then, &finding.now].into_iter().flatten().map(|one| one.name).collect();
    names.dedup();
    names
}

/// A deciding number, or that there is none.
fn figure(measured: Option<&Measured>) -> String {
    measured
        .filter(|one| one.fact.reason().is_none())
        .map_or_else(|| number::NO_VALUE.to_owned(), |one| number::fact(&one.fact, one.unit))
}

/// A deciding number with its name, or that there is none.
pub fn amount(measured: Option<&Measured>) -> String {
    match measured {
        Some(measured) if measured.fact.reason().is_none() => {
            format!("{} {}", measured.name, number::fact(&measured.fact, measured.unit))
        }
        _ => number::NO_VALUE.to_owned(),
    }
}

/// A target without its source.
pub fn target(target: Option<&Target>) -> String {
    target.map_or_else(
        || number::NO_VALUE.to_owned(),
        |target| number::range(target.low, target.high, target.unit),
    )
}

fn moved(out: &mut String, look: Look, moved: &[Moved]) {
    if moved.is_empty() {
        return;
    }
    let mut table = look.table();
    table.set_header(["number", "of", "then", "now", "change"]);
    for one in moved {
        let row = [
            comfy_table::Cell::new(one.number),
            look.strong(&whose(one)),
            comfy_table::Cell::new(number::fact(&one.then, one.unit)),
            comfy_table::Cell::new(number::fact(&one.now, one.unit)),
            comfy_table::Cell::new(change(&one.then, &one.now, one.unit)),
        ];
        table.add_row(row);
    }
    let _ = writeln!(out, "{}", table.trim_fmt());
}

/// Whose number it is; a dash for the main mix.
pub fn whose(moved: &Moved) -> String {
    if moved.whose.is_empty() {
        return number::NO_VALUE.to_owned();
    }
    text::fitted(&moved.whose, LONG_WIDTH)
}

/// A change with its sign: `+3.0 dB`; nothing where one side is a bound. The change of a level is a step.
pub fn change(then: &Fact, now: &Fact, unit: Unit) -> String {
    let step = match unit {
        Unit::Dbfs | Unit::Dbtp => Unit::Db,
        Unit::Lufs => Unit::Lu,
        other => other,
    };
    match (then.value(), now.value()) {
        (Some(then), Some(now)) => {
            let sign = if now > then { "+" } else { "" };
            format!("{sign}{}", number::with_unit(now - then, step))
        }
        _ => number::NO_VALUE.to_owned(),
    }
}

/// The comparison as JSON, indented, with a line break at its end.
///
/// # Panics
///
/// Never: a comparison is plain data.
pub fn json(comparison: &Comparison) -> String {
    super::rounded::text(comparison).expect("a comparison is plain data")
}
