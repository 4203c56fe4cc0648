//! What each microphone hears of the others: the spill between channels as a readable table.
//!
//! Takes the reading, gives text for a terminal, a pipe or Markdown. One row a microphone with its strongest neighbours,
//! never every channel against every other; and what could not be measured is said.

use std::cmp::Ordering;
use std::fmt::Write as _;

use comfy_table::CellAlignment;

use super::look::Look;
use super::{number, phrase, text};
use crate::coach::sure;
use crate::reading::{Channel, Kinship, Pair, Reading};
use crate::unit::{Fact, Unit, Unmeasured};

/// Heading of the section.
pub const TITLE: &str = "What each microphone hears of the others";

/// Neighbours that a row holds: those that a fader or a step aside can change.
const MOST_HEARD: usize = 3;

/// Columns of the table.
const HEADER: [&str; 8] =
    ["mic", "own to\nspill", "hears", "spill\ndB", "later\nms", "farther\nm", "polarity", "sure"];

/// How to read the table.
const LEGEND: &str = "Own to spill: the microphone while its own source sounds against its pauses while others play; who \
    pauses along with it is not in that. Spill: one neighbour against that own source, < for at most. Later and \
    farther: than in the neighbour's own microphone, ~ where not sure.";

/// Confidence from which an arrival carries no mark.
const SURE: f64 = 0.7;

/// Columns of a name where the page is 80 wide; half of what is wider goes to each of the two names.
const NAME_WIDTH: usize = 10;

/// A microphone with its strongest neighbours.
struct Row<'a> {
    mic: &'a Channel,
    heard: Vec<(&'a Channel, &'a Pair)>,
}

/// The table for a terminal or a pipe.
pub fn table(look: Look, reading: &Reading) -> String {
    let rows = rows(reading);
    if rows.is_empty() {
        return text::paragraph("   ", NOTHING, look.width());
    }
    let name_width = NAME_WIDTH + look.width().saturating_sub(80) / 2;
    let name = |channel: &Channel| {
        format!("{} {}", channel.number, text::fitted(&channel.name, name_width))
    };
    let mut table = look.table();
    table.set_header(HEADER);
    for row in &rows {
        let mut cells: [Vec<String>; 8] = Default::default();
        cells[0].push(name(row.mic));
        cells[1].push(number::cell(&row.mic.own_to_spill_db, Unit::Db));
        for (source, pair) in &row.heard {
            cells[2].push(name(source));
            for (cell, content) in cells[3..].iter_mut().zip(heard(pair)) {
                cell.push(content);
            }
        }
        if row.heard.is_empty() {
            cells[2..].iter_mut().for_each(|cell| cell.push(number::NO_VALUE.to_owned()));
        }
        table.add_row(cells.map(|lines| lines.join("\n")));
    }
    for (at, column) in table.column_iter_mut().enumerate() {
        // Eight columns leave little air: one space on each side would break names.
        column.set_padding((u16::from(at == 0), 1));
        if [1, 3, 4, 5].contains(&at) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    let mut out = format!("{}\n\n", table.trim_fmt());
    for line in std::iter::once(LEGEND.to_owned()).chain(not_measured(reading)) {
        out.push_str(&text::paragraph(" ", &line, look.width()));
    }
    out
}

/// The table as Markdown: a line for each neighbour, the microphone named once.
pub fn markdown(reading: &Reading) -> String {
    let rows = rows(reading);
    if rows.is_empty() {
        return format!("{NOTHING}\n");
    }
    let line = |cells: &[String]| format!("| {} |\n", cells.join(" | "));
    let mut out = line(&HEADER.map(|title| title.replace('\n', " ")));
    out.push_str("| --- | ---: | --- | ---: | ---: | ---: | --- | --- |\n");
    let name = |channel: &Channel| text::markdown(&format!("{} {}", channel.number, channel.name));
    for row in &rows {
        let mut start = vec![
            name(row.mic),
            number::cell(&row.mic.own_to_spill_db, Unit::Db).replace('<', "&lt;"),
        ];
        if row.heard.is_empty() {
            start.resize(HEADER.len(), number::NO_VALUE.to_owned());
            out.push_str(&line(&start));
        }
        for (source, pair) in &row.heard {
            let numbers = heard(pair).map(|cell| cell.replace('<', "&lt;"));
            out.push_str(&line(&[start, vec![name(source)], numbers.to_vec()].concat()));
            start = vec![String::new(); 2];
        }
    }
    for sentence in std::iter::once(LEGEND.to_owned()).chain(not_measured(reading)) {
        let _ = writeln!(out, "\n{}", text::markdown(&sentence));
    }
    out
}

/// What stands where there is no pair of spill at all.
const NOTHING: &str = "No spill was measured in this session.";

/// The microphones that were looked at, in desk order, strongest neighbour first.
fn rows(reading: &Reading) -> Vec<Row<'_>> {
    reading.channels.iter().filter_map(|mic| row(reading, mic)).collect()
}

fn row<'a>(reading: &'a Reading, mic: &'a Channel) -> Option<Row<'a>> {
    let mut pairs = spill(reading).filter(|pair| pair.mic == mic.id).peekable();
    pairs.peek()?;
    let known = pairs.filter(|pair| pair.bleed_db.reason().is_none());
    let mut heard: Vec<(&Channel, &Pair)> =
        known.filter_map(|pair| Some((reading.channel(&pair.source)?, pair))).collect();
    heard.sort_by(|one, other| strongest_first(&one.1.bleed_db, &other.1.bleed_db));
    heard.truncate(MOST_HEARD);
    Some(Row { mic, heard })
}

fn spill(reading: &Reading) -> impl Iterator<Item = &Pair> {
    reading.pairs.iter().filter(|pair| pair.kinship == Kinship::Spill)
}

/// Levels that are known come before those of which only a ceiling is known.
fn strongest_first(one: &Fact, other: &Fact) -> Ordering {
    let rank = |fact: &Fact| match *fact {
        Fact::Value { value, .. } => (0, value),
        Fact::AtLeast { at_least, .. } => (0, at_least),
        Fact::Range { high, .. } => (0, high),
        Fact::AtMost { at_most, .. } => (1, at_most),
        Fact::Missing { .. } => (2, f64::NEG_INFINITY),
    };
    let (one, other) = (rank(one), rank(other));
    one.0.cmp(&other.0).then(other.1.total_cmp(&one.1))
}

/// Level, lag, distance, polarity and how sure, of one neighbour.
fn heard(pair: &Pair) -> [String; 5] {
    // The column at the end is about the level: an arrival says by itself whether it is sure.
    let known = |fact: &Fact, write: fn(f64) -> String| {
        let mark = if fact.confidence() < SURE { "~" } else { "" };
        let written = fact.value().map(|value| format!("{mark}{}", write(value)));
        written.unwrap_or_else(|| number::NO_VALUE.to_owned())
    };
    let polarity = |sign: f64| if sign < 0.0 { "opposed" } else { "same" }.to_owned();
    [
        number::cell(&pair.bleed_db, Unit::Db),
        known(&pair.delay_s, |delay_s| number::bare(1000.0 * delay_s, Unit::Milliseconds)),
        // Metres are read to the decimetre, as decibels are.
        known(&pair.farther_m, |farther_m| number::bare(farther_m, Unit::Db)),
        known(&pair.polarity, polarity),
        sure(pair.bleed_db.confidence()).to_owned(),
    ]
}

/// How many pairs have no level, and why, each reason with the sources or microphones that it is about; `None` where all have one.
fn not_measured(reading: &Reading) -> Option<String> {
    let mut reasons: Vec<(String, Vec<String>)> = Vec::new();
    let (mut n_pairs, mut n_missing) = (0, 0);
    for pair in spill(reading) {
        n_pairs += 1;
        let Some(reason) = pair.bleed_db.reason() else { continue };
        n_missing += 1;
        let lacks_own = *reason == Unmeasured::NO_OWN_SOURCE;
        let about = if lacks_own { &pair.mic } else { &pair.source };
        let reason = reason.in_general();
        let at = reasons.iter().position(|known| known.0 == reason).unwrap_or_else(|| {
            reasons.push((reason, Vec::new()));
            reasons.len() - 1
        });
        if !reasons[at].1.contains(about) {
            reasons[at].1.push(about.clone());
        }
    }
    let reasons: Vec<String> = reasons
        .iter()
        .map(|(reason, sources)| format!("{reason}: {}", phrase::channels(reading, sources)))
        .collect();
    (n_missing > 0).then(|| {
        format!("Not measured: {n_missing} of {n_pairs} ways of spill; {}.", reasons.join("; "))
    })
}
