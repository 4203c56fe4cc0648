//! Stored observations as flat rows, each with its session: for spreadsheets and for engines that query many nights.
//!
//! Takes stored nights, gives CSV (RFC 4180) and JSON Lines with the same keys in the same order.

use serde::Serialize;

use crate::history::{Night, Observation};

/// The columns, in order. A new column comes last; a renamed or removed one is a new format.
pub const COLUMNS: [&str; 21] = [
    "session",
    "date",
    "operator",
    "place",
    "style",
    "is_rehearsal",
    "is_good",
    "duration_s",
    "rule",
    "rule_version",
    "channel",
    "role",
    "tap",
    "n_hits",
    "n_chances",
    "severity",
    "number",
    "value",
    "unit",
    "confidence",
    "pages",
];

/// One observation with its session.
#[derive(Serialize)]
pub(super) struct Row<'a> {
    session: &'a str,
    date: Option<&'a str>,
    operator: Option<&'a str>,
    place: Option<&'a str>,
    style: &'a str,
    is_rehearsal: bool,
    is_good: Option<bool>,
    duration_s: f64,
    #[serde(flatten)]
    observation: &'a Observation,
    pages: String,
}

/// The rows of a night as JSON, one a line.
///
/// # Panics
///
/// Never: a row is plain data.
pub fn json_lines(night: &Night) -> String {
    let mut out = String::new();
    for row in rows(night) {
        out.push_str(&serde_json::to_string(&row).expect("a row is plain data"));
        out.push('\n');
    }
    out
}

/// A whole night as JSON on one line.
///
/// # Panics
///
/// Never: a night is plain data.
pub fn session_line(night: &Night) -> String {
    let mut line = serde_json::to_string(night).expect("a night is plain data");
    line.push('\n');
    line
}

/// The names of the columns as a line of CSV.
pub fn csv_head() -> String {
    line(COLUMNS.iter().map(|name| (*name).to_owned()))
}

/// The rows of a night as CSV.
///
/// # Panics
///
/// Never: a row is plain data.
pub fn csv(night: &Night) -> String {
    let mut out = String::new();
    for row in rows(night) {
        let value = serde_json::to_value(&row).expect("a row is plain data");
        out.push_str(&line(COLUMNS.iter().map(|name| cell(&value[*name]))));
    }
    out
}

/// The rows of a night, in the order in which they were judged.
pub(super) fn rows(night: &Night) -> impl Iterator<Item = Row<'_>> {
    let record = &night.record;
    record.observations.iter().map(|observation| Row {
        session: &record.name,
        date: record.date.as_deref(),
        operator: record.operator.as_deref(),
        place: record.place.as_deref(),
        style: &record.style,
        is_rehearsal: record.is_rehearsal,
        is_good: record.is_good,
        duration_s: record.duration_s,
        observation,
        pages: pages(night, &observation.rule),
    })
}

/// Pages on which the rule stood that night: `trainee lead`.
fn pages(night: &Night, rule: &str) -> String {
    let notes = night.record.notes.iter().filter(|note| note.rule == rule);
    notes.map(|note| note.page.as_str()).collect::<Vec<_>>().join(" ")
}

fn line(cells: impl Iterator<Item = String>) -> String {
    let cells: Vec<String> = cells.map(|cell| quoted(&cell)).collect();
    format!("{}\r\n", cells.join(","))
}

/// A value as text; nothing where there is none.
fn cell(value: &serde_json::Value) -> String {
    match value {
        serde_json::Value::Null => String::new(),
        serde_json::Value::String(text) => text.clone(),
        other => other.to_string(),
    }
}

/// A cell in quotes where it holds what would end it. A spreadsheet would run text that begins like a formula: it gets an apostrophe.
fn quoted(cell: &str) -> String {
    let is_formula = cell.starts_with(['=', '+', '@', '\t', '\r'])
        || (cell.starts_with('-') && cell.parse::<f64>().is_err());
    let cell = if is_formula { format!("'{cell}") } else { cell.to_owned() };
    if cell.contains([',', '"', '\n', '\r']) {
        format!("\"{}\"", cell.replace('"', "\"\""))
    } else {
        cell
    }
}
