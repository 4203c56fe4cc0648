//! The tables of faults for docs/accuracy.md.
//!
//! Takes scores, gives Markdown. Never rounds before the end.

use std::fmt::Write as _;

use super::score::Score;
use super::trial::Row;

/// One line: a fault, its clips, and what its F1 is to reach.
pub(crate) struct Line {
    /// What was planted.
    pub(crate) fault: &'static str,
    /// Clips of all seeds.
    pub(crate) rows: Vec<Row>,
    /// What the F1 is to reach; none where only false ones are counted, or nothing is asked.
    pub(crate) bar: Option<f64>,
}

/// What is compared with a number: its largest error and what that may be.
pub(crate) struct Errors {
    /// What was measured.
    pub(crate) what: &'static str,
    /// Errors of all clips, in dB or LU.
    pub(crate) errors: Vec<f64>,
    /// What none is to exceed.
    pub(crate) bar: f64,
}

/// The sum of some rows.
pub(crate) fn sum(rows: &[Row]) -> Score {
    let mut all = Score::default();
    rows.iter().for_each(|row| all.add(row.score));
    all
}

/// The tables.
pub(crate) fn tables(lines: &[Line], errors: &[Errors]) -> String {
    let mut out = String::from(
        "| fault | clips | planted | found | missed | false | F1 | bar |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    for line in lines {
        let score = sum(&line.rows);
        let number = |value: Option<f64>, digits: usize| {
            value.map_or_else(|| "-".to_owned(), |value| format!("{value:.digits$}"))
        };
        let _ = writeln!(
            out,
            "| {} | {} | {} | {} | {} | {} | {} | {} |",
            line.fault,
            line.rows.len(),
            score.n_found + score.n_missed,
            score.n_found,
            score.n_missed,
            score.n_false,
            number(score.f1(), 3),
            number(line.bar, 2)
        );
    }
    out.push_str(
        "\n| figure | clips | median error | largest | bar |\n| --- | --- | --- | --- | --- |\n",
    );
    for one in errors {
        let mut sizes: Vec<f64> = one.errors.iter().map(|error| error.abs()).collect();
        sizes.sort_by(f64::total_cmp);
        let median = sizes.get(sizes.len() / 2).copied().unwrap_or_default();
        let largest = sizes.last().copied().unwrap_or_default();
        let _ = writeln!(
            out,
            "| {} | {} | {median:.2} | {largest:.2} | {} |",
            one.what,
            sizes.len(),
            one.bar
        );
    }
    out
}
