//! How well faults of sound are found: drawn clips with planted faults through the meters, scored. Writes the tables of
//! docs/accuracy.md.
//!
//! `cargo bench --profile dev --bench faults` takes some minutes. `-- --seed N` takes the clips of one seed, tells every clip that is
//! not right, and writes nothing; `-- --only WORD` takes one fault.

#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "a benchmark prints its figures and stops where it can't go on"
)]

mod document;
#[path = "../accuracy/faults/mod.rs"]
mod faults;

use faults::table::{Errors, Line, sum, tables};
use faults::trial::{self, Row};
use faults::{SCORED, clip::Material, clocks, gains, knocks, voices};

/// The marks between which the tables stand.
const MARKS: (&str, &str) = ("<!-- faults -->\n", "<!-- /faults -->");

/// Seeds that are scored: 24 clips each, or 8 voices.
const N_SEEDS: u64 = 1;

/// A fault: the word it goes by, its line in the table, what its F1 is to reach, and its trial.
type Trial = (&'static str, &'static str, Option<f64>, fn(&Material) -> Vec<Row>);

const TRIALS: [Trial; 10] = [
    ("flat", "flat tops at full scale", Some(1.0), |all| trial::flat_tops(all, 0.0)),
    ("flat", "flat tops at -3 dBFS", Some(1.0), |all| trial::flat_tops(all, -3.0)),
    ("flat", "flat tops at -9 dBFS", Some(1.0), |all| trial::flat_tops(all, -9.0)),
    ("flat", "flat tops at -18 dBFS", Some(1.0), |all| trial::flat_tops(all, -18.0)),
    ("flat", "flat tops at -30 dBFS", Some(1.0), |all| trial::flat_tops(all, -30.0)),
    ("blasts", "blasts of air in voices", Some(0.95), trial::blasts),
    ("clicks", "clicks", Some(0.93), trial::clicks),
    ("gaps", "zeros and repeated blocks", Some(0.93), trial::gaps),
    ("fades", "fades of a wireless link, voices too", Some(0.85), trial::fades),
    ("ess", "sharp S sounds in voices, beside soft ones, T and a hi-hat", None, voices::sharp_s),
];

/// A fault that only a whole stage tells: its word, its line, and its trial by seed.
type Staged = (&'static str, &'static str, fn(u64) -> Vec<Row>);

const STAGED: [Staged; 7] = [
    ("knocks", "knocks at microphones in their pauses", knocks::knocks),
    ("rustles", "rustle of cloth at microphones in their pauses", knocks::rustles),
    ("plugs", "plugs that are pulled and put in", knocks::plugs),
    ("gains", "gain of a preamplifier turned by 3 to 8 dB in a song", gains::turned),
    ("gains", "players, amplifiers, faders: none is to be told", gains::alike),
    ("turned", "talk from the side for a minute and a half", voices::turned),
    ("far", "a vocal microphone far from its singer", voices::far),
];

fn main() {
    let words: Vec<String> = std::env::args().skip(1).filter(|word| word != "--bench").collect();
    let after = |name: &str| {
        let at = words.iter().position(|word| word == name)?;
        words.get(at + 1).cloned()
    };
    let only = after("--only");
    let one: Option<u64> = after("--seed").map(|word| word.parse().unwrap());
    let seeds: Vec<u64> = one.map_or_else(|| (SCORED..SCORED + N_SEEDS).collect(), |one| vec![one]);
    let is_wanted = |word: &str| only.as_ref().is_none_or(|only| only == word);
    let mut lines = Vec::new();
    let is_any = TRIALS.iter().any(|trial| is_wanted(trial.0));
    let materials: Vec<Material> =
        if is_any { seeds.iter().map(|seed| Material::of(*seed)).collect() } else { Vec::new() };
    for (word, fault, bar, trial) in TRIALS {
        if is_wanted(word) {
            let rows = materials.iter().flat_map(trial).collect();
            lines.push(told(Line { fault, rows, bar }, one.is_some()));
        }
    }
    if is_wanted("hum") {
        let (without, with): (Vec<_>, Vec<_>) = seeds.iter().map(|seed| trial::hums(*seed)).unzip();
        for (fault, rows) in [
            ("low notes without hum: none is to be false", without),
            ("low notes with hum of -66 to -45 dBFS", with),
        ] {
            let rows = rows.into_iter().flatten().collect();
            lines.push(told(Line { fault, rows, bar: None }, one.is_some()));
        }
    }
    for (fault, trial) in STAGED.iter().filter(|one| is_wanted(one.0)).map(|one| (one.1, one.2)) {
        let rows = seeds.iter().flat_map(|seed| trial(*seed)).collect();
        lines.push(told(Line { fault, rows, bar: None }, one.is_some()));
    }
    let mut errors = if is_wanted("levels") { errors(&seeds, one.is_some()) } else { Vec::new() };
    if is_wanted("clocks") {
        let (more, error) = drifts(&seeds);
        lines.extend(more.into_iter().map(|line| told(line, one.is_some())));
        errors.push(error);
    }
    let tables = tables(&lines, &errors);
    println!("{tables}");
    if one.is_none() && only.is_none() {
        document::put("accuracy.md", MARKS, &tables);
    }
}

/// Tells the sum of a line, and each clip that is not right.
fn told(line: Line, are_told: bool) -> Line {
    println!("{}: {:?}", line.fault, sum(&line.rows));
    let is_off = |row: &&Row| row.score.n_missed + row.score.n_false > 0;
    for row in line.rows.iter().filter(is_off).filter(|_| are_told) {
        println!("  {}: {:?}", row.clip, row.score);
    }
    line
}

/// Clocks of further recorders: lines, and errors of what was told.
fn drifts(seeds: &[u64]) -> (Vec<Line>, Errors) {
    let (hall, in_hall_ms): (Vec<_>, Vec<_>) =
        seeds.iter().map(|seed| clocks::in_the_hall(*seed)).unzip();
    let (stage, on_stage_ms): (Vec<_>, Vec<_>) =
        seeds.iter().map(|seed| clocks::on_the_stage(*seed)).unzip();
    let none = seeds.iter().flat_map(|seed| clocks::no_clocks(*seed)).collect();
    let line = |fault, rows: Vec<Vec<Row>>| Line {
        fault,
        rows: rows.into_iter().flatten().collect(),
        bar: None,
    };
    let lines = vec![
        line("drift of a recorder in the hall, 5 to 100 ppm", hall),
        line("drift of a second recorder of channels, 5 to 100 ppm", stage),
        Line {
            fault: "people who walk, air that warms: none is to be told",
            rows: none,
            bar: None,
        },
    ];
    let errors = in_hall_ms.into_iter().chain(on_stage_ms).flatten().collect();
    (lines, Errors { what: "drift over the take where it is told, ms", errors, bar: 0.5 })
}

/// Errors of figures of level.
fn errors(seeds: &[u64], are_told: bool) -> Vec<Errors> {
    let spreads: Vec<_> = seeds.iter().flat_map(|seed| trial::spread_errors(*seed)).collect();
    let moves: Vec<_> = seeds.iter().flat_map(|seed| trial::crest_moves(*seed)).collect();
    if are_told {
        spreads.iter().for_each(|(clip, error)| println!("  {clip}: {error:.2} LU"));
        moves
            .iter()
            .for_each(|(clip, active, whole)| println!("  {clip}: {active:.2} and {whole:.2} dB"));
    }
    vec![
        Errors {
            what: "spread of phrase levels, LU",
            errors: spreads.into_iter().map(|(_, error)| error).collect(),
            bar: 0.3,
        },
        Errors {
            what: "active crest against pauses, dB",
            errors: moves.into_iter().map(|(_, active, _)| active).collect(),
            bar: 0.1,
        },
    ]
}
