//! The channel tables: what was found in a folder, and how each channel fared.
//!
//! Takes small rows, gives text for a terminal or a pipe. Never judges.

use std::fmt::Write as _;

use comfy_table::{CellAlignment, ColumnConstraint, Width};

use super::look::Look;
use super::{number, text};
use crate::reading::{Channel, Reading};
use crate::unit::Unit;

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
    /// Number of the other channel of the pair, and which of the two this is.
    pub partner: Option<String>,
    /// Length, in seconds.
    pub duration_s: f64,
    /// Sample rate, in Hz.
    pub rate_hz: u32,
    /// Bits a sample.
    pub bits: u32,
    /// Whether the samples are floating-point numbers.
    pub is_float: bool,
    /// What was repaired, joined or left out, one sentence each.
    pub warnings: Vec<String>,
}

/// The table of `deskside channels`, with the warnings below it.
pub fn found(look: Look, rows: &[Row]) -> String {
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
            number::clock(row.duration_s),
            format!(
                "{}/{}{}",
                kilohertz(row.rate_hz),
                row.bits,
                if row.is_float { "f" } else { "" }
            ),
        ]);
    }
    align_right(&mut table, &[0, 6, 7]);
    let mut out = format!("{}\n", table.trim_fmt());
    if rows.iter().any(|row| row.is_float) {
        let _ = writeln!(out, "\n f: floating-point samples");
    }
    let warned = rows.iter().flat_map(|row| row.warnings.iter().map(move |warning| (row, warning)));
    for (at, (row, warning)) in warned.enumerate() {
        if at == 0 {
            let _ = writeln!(out, "\n{}", look.heading("To know"));
        }
        let warning = format!(
            "{} {}: {}",
            row.number,
            text::fitted(&row.name, NAME_WIDTH),
            text::plain(warning)
        );
        out.push_str(&text::paragraph(" - ", &warning, look.width()));
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

/// A sample rate in kHz, without needless decimals: `48`, `44.1`.
fn kilohertz(rate_hz: u32) -> String {
    let (whole, rest) = (rate_hz / 1000, rate_hz % 1000);
    if rest == 0 {
        return whole.to_string();
    }
    format!("{whole}.{rest:03}").trim_end_matches('0').to_owned()
}
