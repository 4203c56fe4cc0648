//! Windows of the ten bands by role: where a band's share of a channel usually lies.
//!
//! Takes the table in `corpus/roles/windows.csv` (speech: published speech spectra; main: published tilt of popular
//! mixes; instruments: judgement, widened until renders of sampled instruments lay inside). Never judges.

use std::sync::LazyLock;

use crate::session::Role;

/// Names of the ten bands, low to high.
pub const BANDS: [&str; 10] =
    ["floor", "bass", "warmth", "thick", "body", "nose", "presence", "edge", "sizzle", "air"];

/// Place of 112-224 Hz among the bands.
pub(super) const WARMTH: usize = 2;
/// Place of 224-355 Hz among the bands.
pub(super) const THICK: usize = 3;
/// Place of 355-891 Hz among the bands.
pub(super) const BODY: usize = 4;
/// Place of 891-1778 Hz among the bands.
pub(super) const NOSE: usize = 5;
/// Place of 1778-3548 Hz among the bands.
pub(super) const PRESENCE: usize = 6;
/// Place of 3548-5623 Hz among the bands.
pub(super) const EDGE: usize = 7;

type Row = [(Option<f64>, Option<f64>); BANDS.len()];

const TEXT: &str = include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/corpus/roles/windows.csv"));

static TABLE: LazyLock<Vec<(Role, Row)>> = LazyLock::new(|| TEXT.lines().filter_map(row).collect());

/// Window of a band's share re the channel's own ten-band total, in dB: low and high end, inside; a missing end is open.
///
/// `band` counts from 0 (floor) to 9 (air). Both ends are missing for roles without windows.
pub fn window(role: Role, band: usize) -> (Option<f64>, Option<f64>) {
    TABLE
        .iter()
        .find(|(known, _)| *known == role)
        .and_then(|(_, row)| row.get(band).copied())
        .unwrap_or((None, None))
}

/// Middle of a window that has both ends, in dB.
pub(super) fn middle(role: Role, band: usize) -> Option<f64> {
    match window(role, band) {
        (Some(low), Some(high)) => Some(f64::midpoint(low, high)),
        _ => None,
    }
}

/// One line of the table; nothing for its head and for words that are no role.
fn row(line: &str) -> Option<(Role, Row)> {
    let mut cells = line.split(',').map(str::trim);
    let word = cells.next()?;
    let role = Role::ALL.into_iter().find(|role| role.word() == word)?;
    let ends: Vec<Option<f64>> = cells.skip(1).map(|cell| cell.parse().ok()).collect();
    let mut row = [(None, None); BANDS.len()];
    for (band, ends) in row.iter_mut().zip(ends.chunks_exact(2)) {
        *band = (ends[0], ends[1]);
    }
    Some((role, row))
}
