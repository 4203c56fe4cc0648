//! The channel tables: what was found in a folder, and how each channel fared.
//!
//! Takes small rows, gives text for a terminal or a pipe. Never judges.

use std::fmt::Write as _;

use comfy_table::{CellAlignment, ColumnConstraint, Width};

use super::look::Look;
use super::{number, text};
use crate::reading::{Channel, Reading};
use crate::session::{Session, SessionChannel, Side};
use crate::unit::Unit;

/// Columns that the longest id of a rule takes.
const NOTES_WIDTH: u16 = 20;

/// The most columns that a name takes in a table.
const NAME_WIDTH: usize = 18;

/// One channel as found in a folder, before anything is measured.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Number on the desk, from 1.
    pub number: usize,
    /// Name on the desk.
    pub name: String,
    /// Role in words.
    pub role: &'static str,
    /// How the role was found, in a word.
    pub found: &'static str,
    /// Tap in a word.
    pub tap: &'static str,
    /// What it belongs together with: `L of 8`, `raw is 3`.
    pub partner: Option<String>,
    /// Length, in seconds, where the header tells it.
    pub duration_s: Option<f64>,
    /// Sample rate, in Hz.
    pub rate_hz: u32,
    /// Bits a sample; 0 for codecs that have none.
    pub bits: u32,
    /// Whether the samples are floating-point numbers.
    pub is_float: bool,
    /// What was repaired, joined or left out, one sentence each.
    pub warnings: Vec<String>,
}

impl Row {
    /// The row of a channel.
    fn new(channel: &SessionChannel, all: &[SessionChannel]) -> Self {
        let number_of = |idx: Option<usize>| Some(all.get(idx?)?.number);
        let side = match channel.side {
            Some(Side::Left) => "L with",
            Some(Side::Right) => "R with",
            None => "with",
        };
        let stereo = number_of(channel.partner).map(|number| format!("{side} {number}"));
        let raw = number_of(channel.raw).map(|number| format!("raw is {number}"));
        #[expect(clippy::cast_precision_loss, reason = "a count of frames is far below 2^52")]
        let duration_s =
            channel.n_frames.map(|n_frames| n_frames as f64 / f64::from(channel.rate_hz));
        Self {
            number: channel.number,
            name: channel.name.clone(),
            role: channel.role.word(),
            found: channel.role_source.word(),
            tap: channel.tap.word(),
            partner: stereo.or(raw),
            duration_s,
            rate_hz: channel.rate_hz,
            bits: channel.bits,
            is_float: channel.is_float,
            warnings: channel.warnings.clone(),
        }
    }
}

/// What is in a folder: a head line, the table of channels, and what to know about them.
pub fn found(look: Look, session: &Session) -> String {
    let mut out = format!("{}\n", look.heading(&text::fitted(&session.name, look.width())));
    let n_files = session.takes.iter().map(|take| take.parts.len()).sum();
    let mut parts: Vec<String> = session.date.iter().map(|date| text::plain(date)).collect();
    parts.push(number::length(session.duration_s()));
    parts.push(text::counted(session.channels.len(), "channel"));
    parts.push(text::counted(n_files, "file"));
    parts.push(format!("{} kHz", kilohertz(session.rate_hz)));
    let _ = writeln!(out, "{}\n", parts.join(" · "));
    let rows: Vec<Row> =
        session.channels.iter().map(|channel| Row::new(channel, &session.channels)).collect();
    out.push_str(&table(look, &rows, &session.warnings));
    out
}

/// The table of channels, with what to know about them and about the folder below it.
pub fn table(look: Look, rows: &[Row], warnings: &[String]) -> String {
    let mut table = look.table();
    table.set_header(["nr", "name", "role", "found by", "tap", "pair", "length", "kHz/bit"]);
    for row in rows {
        table.add_row([
            row.number.to_string(),
            text::fitted(&row.name, NAME_WIDTH),
            row.role.to_owned(),
            row.found.to_owned(),
            row.tap.to_owned(),
            row.partner.clone().unwrap_or_default(),
            row.duration_s.map_or_else(|| number::NO_VALUE.to_owned(), number::clock),
            format!("{}/{}", kilohertz(row.rate_hz), resolution(row)),
        ]);
    }
    align_right(&mut table, &[0, 6, 7]);
    let mut out = format!("{}\n", table.trim_fmt());
    if rows.iter().any(|row| row.is_float) {
        let _ = writeln!(out, "\n f: floating-point samples");
    }
    let of_channel = |row: &Row, warning: &String| {
        format!("{} {}: {warning}", row.number, text::fitted(&row.name, NAME_WIDTH))
    };
    let warned = rows
        .iter()
        .flat_map(|row| row.warnings.iter().map(move |warning| of_channel(row, warning)));
    let lines: Vec<String> = warned.chain(warnings.iter().cloned()).collect();
    if !lines.is_empty() {
        let _ = writeln!(out, "\n{}", look.heading("To know"));
    }
    for line in lines {
        out.push_str(&text::paragraph(" - ", &text::plain(&line), look.width()));
    }
    out
}

/// The channel table of a review: levels, and the notes that name each channel.
pub(super) fn measured(
    look: Look,
    reading: &Reading,
    notes_of: &dyn Fn(&Channel) -> String,
) -> String {
    let mut table = look.table();
    table.set_header([
        "nr",
        "name",
        "role",
        "loud\ndBFS",
        "peak\ndBFS",
        "own to\nspill dB",
        "floor\ndBFS",
        "notes",
    ]);
    for channel in &reading.channels {
        table.add_row([
            channel.number.to_string(),
            text::fitted(&channel.name, NAME_WIDTH),
            channel.role.word().to_owned(),
            number::cell(&channel.loud_level_dbfs, Unit::Dbfs),
            number::cell(&channel.top_peak_dbfs, Unit::Dbfs),
            number::cell(&channel.own_to_spill_db, Unit::Db),
            number::cell(&channel.quiet_level_dbfs, Unit::Dbfs),
            notes_of(channel),
        ]);
    }
    align_right(&mut table, &[0, 3, 4, 5, 6]);
    // Ids of rules are longer than a column that shrinks would leave them.
    if let Some(notes) = table.column_mut(7) {
        notes.set_constraint(ColumnConstraint::LowerBoundary(Width::Fixed(NOTES_WIDTH)));
    }
    for at in [3, 4, 5, 6] {
        if let Some(column) = table.column_mut(at) {
            column.set_constraint(ColumnConstraint::LowerBoundary(Width::Fixed(7)));
        }
    }
    format!("{}\n", table.trim_fmt())
}

fn align_right(table: &mut comfy_table::Table, columns: &[usize]) {
    for at in columns {
        if let Some(column) = table.column_mut(*at) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
}

/// Bits a sample, marked where they are floating-point numbers.
fn resolution(row: &Row) -> String {
    match (row.bits, row.is_float) {
        (0, _) => number::NO_VALUE.to_owned(),
        (bits, true) => format!("{bits}f"),
        (bits, false) => bits.to_string(),
    }
}

/// A sample rate in kHz, without needless decimals: `48`, `44.1`.
fn kilohertz(rate_hz: u32) -> String {
    let (whole, rest) = (rate_hz / 1000, rate_hz % 1000);
    if rest == 0 {
        return whole.to_string();
    }
    format!("{whole}.{rest:03}").trim_end_matches('0').to_owned()
}
