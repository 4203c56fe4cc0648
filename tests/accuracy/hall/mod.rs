//! How well feedback and the hall are heard: closed loops, held notes and halls whose seeds nothing was set with.
//!
//! Each part makes its clips, measures them, and gives a table. The published criteria are scored on the same clips.

mod decays;
mod howls;
mod places;
mod rings;
mod witness;

/// First seed of all clips here: far from those of the tests and of every trial.
const FRESH: u64 = 400_000;

/// The tables of docs/accuracy.md.
pub(crate) fn tables() -> String {
    [howls::table(FRESH), rings::table(), places::table(), decays::table()].join("\n")
}

/// The table of howls alone, of clips from a seed on.
pub(crate) fn howls_from(first: u64) -> String {
    howls::table(first)
}

/// A median and a largest value, with digits; dashes for none.
fn median_and_most(values: &[f64]) -> (String, String) {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let shown = |value: Option<&f64>| value.map_or("-".to_owned(), |value| format!("{value:.2}"));
    (shown(sorted.get(sorted.len() / 2)), shown(sorted.last()))
}

/// A share in percent.
fn percent(part: usize, whole: usize) -> String {
    if whole == 0 { "-".to_owned() } else { format!("{:.0} %", 100.0 * part as f64 / whole as f64) }
}
