//! How well compressors and gates are read from a channel's two taps, and how well thresholds to start from suit: cases drawn by seed,
//! scored against what was set. Writes the tables of docs/accuracy.md.
//!
//! `cargo bench --profile dev --bench taps` takes some ten minutes. `-- FROM TO` scores these seeds and writes nothing, `-- --starts` does
//! thresholds to start from alone: for work on the program take seeds from 1000 on, those below are set aside. The tables take seeds from 200 on: the borders were set with earlier
//! ones in view.

#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "a benchmark prints its figures and stops where it can't go on"
)]

mod document;
#[expect(dead_code, reason = "its rooms are for other tests")]
#[path = "../support/paths.rs"]
mod paths;
#[expect(dead_code, reason = "its signals are for other tests")]
#[path = "../support/signals.rs"]
mod signals;
#[path = "../accuracy/taps/mod.rs"]
mod taps;
#[path = "../support/taps.rs"]
mod taps_support;

mod support {
    pub(crate) use crate::{paths, signals, taps_support as taps};
}

use rayon::prelude::*;

use taps::gated::{self, score as score_gate};
use taps::squeezed::{self, Case};
use taps::starts::{self, started};
use taps::table::tables;

/// The marks between which the tables stand: of two taps, and of thresholds to start from.
const MARKS: (&str, &str) = ("<!-- taps -->\n", "<!-- /taps -->");
const STARTS: (&str, &str) = ("<!-- starts -->\n", "<!-- /starts -->");

/// The first seed, and how many compressors and gates are drawn.
const FIRST: u64 = 200;
const N_COMPRESSORS: u64 = 192;
const N_GATES: u64 = 24;

/// Stages on which thresholds are suggested.
const N_STAGES: u64 = 8;

fn main() {
    let numbers: Vec<u64> = std::env::args().skip(1).filter_map(|word| word.parse().ok()).collect();
    let (from, to) = match numbers[..] {
        [from, to] => (from, to),
        _ => (FIRST, FIRST + N_COMPRESSORS),
    };
    let stages_to = from + (to - from).min(N_STAGES);
    let stages: Vec<starts::Started> = (from..stages_to).into_par_iter().map(started).collect();
    put(STARTS, &starts::tables(&stages), numbers.is_empty());
    if std::env::args().any(|word| word == "--starts") {
        return;
    }
    let gates_to = from + (to - from).min(N_GATES);
    let squeezed: Vec<squeezed::Score> =
        (from..to).into_par_iter().map(|seed| told(seed, Case::drawn(seed).score())).collect();
    let gated: Vec<gated::Score> =
        (from..gates_to).into_par_iter().map(|seed| told_gate(seed, score_gate(seed))).collect();
    put(MARKS, &tables(&squeezed, &gated), numbers.is_empty());
}

/// Prints tables, and writes them where they are those of the document.
fn put(marks: (&str, &str), tables: &str, is_written: bool) {
    println!("{tables}");
    if is_written {
        document::put("accuracy.md", marks, tables);
    }
}

/// Prints a line on a compressor.
fn told(seed: u64, score: squeezed::Score) -> squeezed::Score {
    let found = score.found.as_ref();
    let states = found.map(|one| (one.is_sure, one.zero, one.residual_db, one.misfit_db));
    println!(
        "compressor {seed}: {}; {states:?}; off {:?} dB; true {:.1} dB, {:?}; read {:?}",
        score.what,
        score.trace_db,
        score.true_loud_db,
        score.truth,
        found.map(|one| &one.settings)
    );
    score
}

/// Prints a line on a gate.
fn told_gate(seed: u64, score: gated::Score) -> gated::Score {
    let read = score.found.as_ref().map(|one| {
        let counts = one.switches.as_ref().map(|one| [one.flutter_at_s.len(), one.cut_at_s.len()]);
        (one.depth_db, one.residual_db, counts)
    });
    println!(
        "gate {seed}: {:?}, {:?}; agreement {:.4}; true depth {:.1} dB, flutter {}, cuts {}; read {read:?}",
        score.player,
        score.kind,
        score.agreement,
        score.true_depth_db,
        score.n_true_flutter,
        score.n_true_cuts
    );
    score
}
