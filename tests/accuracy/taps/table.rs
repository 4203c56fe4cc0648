//! The tables of docs/accuracy.md about two taps, and their bars.
//!
//! Takes scores, gives Markdown. Never rounds before the end.

use std::fmt::Write as _;

use deskside::relate::gate::Switches;
use deskside::relate::reduction::Settings;

use super::gated::{self, Kind};
use super::squeezed;

/// What is asked of a trace, in dB, and in which share of the cases.
const TRACE_DB: f64 = 0.5;
/// Share of the true ratio and of the true release within which they lie.
const RATIO: f64 = 0.15;
const RELEASE: f64 = 0.30;
/// Reduction from which on settings are asked for, in dB.
const WORKS_DB: f64 = 3.0;
/// Threshold, in dB.
const THRESHOLD_DB: f64 = 1.0;

/// The tables of some compressors and gates.
pub(crate) fn tables(squeezed: &[squeezed::Score], gated: &[gated::Score]) -> String {
    [traces(squeezed), settings(squeezed), gates(gated)].join("\n")
}

fn traces(all: &[squeezed::Score]) -> String {
    let mut out = format!(
        "Gain reduction in blocks of 2 ms, mean absolute error in programme. Bar: {TRACE_DB} dB in 95 % of at least 40 cases that are\n\
         called sure.\n\n\
         | cases | drawn | called sure | within {TRACE_DB} dB | median error, dB | largest, dB | not sure | of these within {TRACE_DB} dB |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- |\n"
    );
    for (name, of) in parts() {
        let some: Vec<&squeezed::Score> = all.iter().filter(|score| of(score)).collect();
        let errors = |sure: bool| {
            let is_so = |score: &&&squeezed::Score| {
                score.found.as_ref().is_some_and(|found| found.is_sure) == sure
            };
            let mut errors: Vec<f64> =
                some.iter().filter(is_so).filter_map(|score| score.trace_db).collect();
            errors.sort_by(f64::total_cmp);
            errors
        };
        let close = |errors: &[f64]| errors.iter().filter(|error| **error <= TRACE_DB).count();
        let (sure, rough) = (errors(true), errors(false));
        let _ = writeln!(
            out,
            "| {name} | {} | {} | {} | {} | {} | {} | {} |",
            some.len(),
            sure.len(),
            share(close(&sure), sure.len()),
            decibels(sure.get(sure.len() / 2)),
            decibels(sure.last()),
            some.len() - sure.len(),
            close(&rough)
        );
    }
    out
}

fn settings(all: &[squeezed::Score]) -> String {
    let mut out = format!(
        "Settings, where the true 95th percentile of the reduction is {WORKS_DB} dB or more. Bars: ratio within 15 % in 85 %, release within\n\
         30 % in 80 %, a range that holds the attack in 90 %. The threshold, within {THRESHOLD_DB} dB, has no bar.\n\n\
         | cases | settings | ratio | release | attack held | threshold |\n\
         | --- | --- | --- | --- | --- | --- |\n"
    );
    type Kind = (&'static str, fn(&Settings) -> bool);
    let kinds: [Kind; 2] = [("called sure", |one| one.is_sure), ("all that are named", |_| true)];
    for (name, of) in kinds {
        let works = all.iter().filter(|score| score.true_loud_db >= WORKS_DB);
        let read: Vec<(&squeezed::Score, &Settings)> = works
            .filter_map(|score| Some((score, score.found.as_ref()?.settings.as_ref().ok()?)))
            .filter(|(_, settings)| of(settings))
            .collect();
        let count = |is_right: &dyn Fn(&squeezed::Score, &Settings) -> bool| {
            share(read.iter().filter(|(score, one)| is_right(score, one)).count(), read.len())
        };
        let is_near = |found: f64, truth: f64, most: f64| (found / truth - 1.0).abs() <= most;
        let _ = writeln!(
            out,
            "| {name} | {} | {} | {} | {} | {} |",
            read.len(),
            count(&|score, one| is_near(one.ratio, score.truth.ratio, RATIO)),
            count(&|score, one| is_near(one.release_s, score.truth.release_s, RELEASE)),
            count(&|score, one| {
                (one.attack_s[0]..=one.attack_s[1]).contains(&score.truth.attack_s)
            }),
            count(&|score, one| {
                (one.threshold_dbfs - score.truth.threshold_dbfs).abs() <= THRESHOLD_DB
            })
        );
    }
    out
}

fn gates(all: &[gated::Score]) -> String {
    let mut out = "Gates: blocks of 2 ms whose state, open or closed, is right, how often a gate flutters, and how often it cuts what still rings. Bars: 0.99\n\
         in the median; counts only where the residual is -25 dB or less, within 1.\n\n\
         | gates | drawn | read | agreement, median | smallest | depth off, median, dB | counts given | within 1 | flutter, true | read | cuts, true | read |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |\n"
        .to_owned();
    let kinds = [
        ("well set", Some(Kind::Well)),
        ("fluttering", Some(Kind::Fluttering)),
        ("cutting", Some(Kind::Cutting)),
        ("expanders", Some(Kind::Expander)),
        ("all", None),
    ];
    for (name, kind) in kinds {
        let is_it = |score: &&gated::Score| kind.is_none_or(|kind| score.kind == kind);
        let some: Vec<&gated::Score> = all.iter().filter(is_it).collect();
        let read: Vec<_> =
            some.iter().filter_map(|score| Some((score, score.found.as_ref().ok()?))).collect();
        let mut agreements: Vec<f64> = read.iter().map(|(score, _)| score.agreement).collect();
        agreements.sort_by(f64::total_cmp);
        let mut depths_db: Vec<f64> =
            read.iter().map(|(score, one)| (one.depth_db - score.true_depth_db).abs()).collect();
        depths_db.sort_by(f64::total_cmp);
        let counts: Vec<[usize; 4]> = read
            .iter()
            .filter_map(|(score, one)| {
                let Switches { flutter_at_s, cut_at_s, .. } = one.switches.as_ref().ok()?;
                let [flutter, cuts] = [flutter_at_s.len(), cut_at_s.len()];
                Some([score.n_true_flutter, flutter, score.n_true_cuts, cuts])
            })
            .collect();
        let n_right = counts.iter().filter(|[truth, found, ..]| truth.abs_diff(*found) <= 1);
        let n_right = n_right.count();
        let sum = |at: usize| counts.iter().map(|count| count[at]).sum::<usize>();
        let three = |value: Option<&f64>| value.map_or("-".to_owned(), |one| format!("{one:.3}"));
        let _ = writeln!(
            out,
            "| {name} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} |",
            some.len(),
            read.len(),
            three(agreements.get(agreements.len() / 2)),
            three(agreements.first()),
            depths_db.get(depths_db.len() / 2).map_or("-".to_owned(), |one| format!("{one:.1}")),
            counts.len(),
            share(n_right, counts.len()),
            sum(0),
            sum(1),
            sum(2),
            sum(3)
        );
    }
    out
}

type Part = (&'static str, fn(&squeezed::Score) -> bool);

fn parts() -> [Part; 3] {
    [
        ("fader at rest", |score| !score.moves),
        ("fader moved", |score| score.moves),
        ("all", |_| true),
    ]
}

pub(super) fn share(part: usize, whole: usize) -> String {
    if whole == 0 {
        return "-".to_owned();
    }
    format!("{part} of {whole} ({:.0} %)", 100.0 * part as f64 / whole as f64)
}

pub(super) fn decibels(value: Option<&f64>) -> String {
    value.map_or("-".to_owned(), |one| format!("{one:.2}"))
}
