//! Whole-program figures: what reviews of several sizes take and hold, beside an independent meter, a script and the machine's limits
//! in the same run. Writes its tables into docs/performance.md.
//!
//! `cargo bench --bench whole` renders the demo's evening, makes recordings of it with 8 to 64 channels and 5 to 15 minutes in a
//! scratch folder (below `TMPDIR`; up to 5 GB), and reviews each twice: all of it, and the measurements of the channels alone
//! (recordings declared as processed, from which nothing is told about spill, and without the main mix). `-- --long` adds an hour of
//! 32 channels (17 GB, 20 minutes). `-- --print` writes nothing. The ratios are the figures to compare between machines.

#![expect(clippy::print_stdout, reason = "a benchmark prints its figures")]

mod document;
#[path = "whole/evening.rs"]
mod evening;
#[path = "whole/review.rs"]
mod review;
#[path = "whole/table.rs"]
mod table;
#[path = "whole/witness.rs"]
mod witness;

use std::fs;
use std::path::{Path, PathBuf};

use evening::Evening;
use review::{Cost, review};
use table::{Beside, Row};
use witness::Planes;

/// Channels and minutes.
const SIZES: [(usize, usize); 5] = [(8, 5), (16, 5), (32, 5), (64, 5), (32, 15)];
const LONG: (usize, usize) = (32, 60);

/// The size that others are set beside.
const USUAL: (usize, usize) = (32, 5);

/// The marks in docs/performance.md between which the tables stand.
const MARKS: (&str, &str) = ("<!-- whole -->\n", "<!-- /whole -->");

/// Recordings longer than this are reviewed once: the chances of one run even out.
const ONCE_MINUTES: usize = 30;

fn main() {
    let has = |word: &str| std::env::args().any(|given| given == word);
    let dir = tempfile::tempdir().expect("a scratch folder can be made");
    let evening = Evening::render(dir.path());
    let sizes = SIZES.into_iter().chain(has("--long").then_some(LONG));
    let (mut rows, mut beside) = (Vec::new(), None);
    for (n_channels, n_minutes) in sizes {
        let folder = dir.path().join(format!("{n_channels} channels, {n_minutes} min"));
        evening.write(&folder, n_channels, n_minutes);
        let row = measure(&folder, dir.path(), n_channels, n_minutes);
        println!("{}", row.line());
        rows.push(row);
        if (n_channels, n_minutes) == USUAL {
            beside = Some(others(&folder, row.channel_seconds()));
        }
        fs::remove_dir_all(&folder).expect("what was made can be removed");
    }
    let beside = beside.expect("the usual size is among them");
    let tables = table::tables(&rows, &beside);
    println!("{tables}");
    if !has("--print") {
        document::put("performance.md", MARKS, &tables);
    }
}

fn measure(folder: &Path, dir: &Path, n_channels: usize, n_minutes: usize) -> Row {
    let n_runs = if n_minutes > ONCE_MINUTES { 1 } else { 2 };
    let best = |note: &str| {
        fs::write(folder.join("session.toml"), note).expect("the scratch folder is writable");
        let runs = (0..n_runs).map(|_| review(folder, dir));
        let best = runs.min_by(|a: &Cost, b| a.seconds.total_cmp(&b.seconds)).expect("a run");
        // So that no later review takes it for a recording of its own.
        let written = folder.with_file_name(format!(
            "{}-review",
            folder.file_name().unwrap_or_default().to_string_lossy()
        ));
        if written.exists() {
            fs::remove_dir_all(written).expect("what was made can be removed");
        }
        best
    };
    let (main, aside) = (evening::main_in(folder, n_channels), dir.join("main.wav"));
    fs::rename(&main, &aside).expect("the main mix can be set aside");
    let alone = best("tap = \"processed\"\n");
    fs::rename(&aside, &main).expect("and put back");
    let whole = best("tap = \"raw\"\n");
    Row { n_channels, n_minutes, alone, whole }
}

/// What stands beside, on the inputs of a folder.
fn others(folder: &Path, channel_seconds: f64) -> Beside {
    let mut paths: Vec<PathBuf> = fs::read_dir(folder)
        .expect("the folder is there")
        .map(|entry| entry.expect("its files can be listed").path())
        .filter(|path| path.extension().is_some_and(|word| word == "wav"))
        .collect();
    paths.sort();
    paths.pop(); // the main mix
    let planes = Planes::read(&paths);
    Beside {
        crate_meter: planes.crate_meter(),
        own_meters: planes.own_meters(),
        script: witness::script(&paths[..4]),
        reading: witness::reading(&paths, channel_seconds),
        transforms: planes.transforms(),
        products: witness::products(),
    }
}
