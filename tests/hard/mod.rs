//! Hard inputs through the program: each with the sentence that it must say and its exit code.
//!
//! The tables stand in `sound`, `folders`, `texts` and `disks`; a new kind of bad input is one more row. What a right answer is follows
//! from the formats (EBU Tech 3306, ITU-R BS.2088, RIFF from memory) and from the promise that nothing is lost, hangs or is left half.

#[cfg(unix)]
mod disks;
mod folders;
mod sound;
mod texts;

use std::fs;
use std::path::Path;
use std::process::{Command, Output};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use crate::support::wavefile::{Kind, plain, put};

/// Longest time for one input, slow machines allowed for: the inputs take milliseconds.
const MOST: Duration = Duration::from_secs(60);

/// Frames of a recording that is only there to be read.
const N_FRAMES: usize = 9_600;

/// One kind of bad input.
struct Case {
    /// What is wrong.
    what: &'static str,
    /// Lays the input into a scratch folder; the session is `night` in it.
    lay: fn(&Path),
    /// Arguments of the program.
    arguments: &'static [&'static str],
    /// Exit code.
    code: i32,
    /// What it must say, on either output, breaks of lines aside.
    says: &'static str,
}

/// The usual way to look at a session: everything is read, and nothing but its end is left out.
const REVIEW: &[&str] = &["review", "night", "--no-excerpts"];

/// Headers alone.
const CHANNELS: &[&str] = &["channels", "night"];

fn run(folder: &Path, arguments: &[&str]) -> Output {
    let mut program = Command::new(env!("CARGO_BIN_EXE_deskside"));
    // A history of the user's own is never touched.
    program.env("XDG_DATA_HOME", folder).env("HOME", folder);
    program.args(arguments).current_dir(folder).output().unwrap()
}

/// All that was said, every row of white space made one space.
fn said(output: &Output) -> String {
    let all = [output.stderr.as_slice(), &output.stdout].map(String::from_utf8_lossy).join("\n");
    all.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A recording that can be read.
fn good(folder: &Path, name: &str) {
    put(folder, name, &plain(Kind::S24, N_FRAMES, 1, 48_000));
}

/// The session's folder, with one good recording in it.
fn night(folder: &Path) -> std::path::PathBuf {
    let night = folder.join("night");
    fs::create_dir_all(&night).unwrap();
    good(&night, "01 Kick.wav");
    night
}

/// A bad file beside a good one.
fn beside(folder: &Path, bytes: &[u8]) {
    put(&night(folder), "02 Bass.wav", bytes);
}

/// Complaints about a row of the table.
fn complaint(case: &Case) -> Option<String> {
    let folder = tempfile::tempdir().unwrap();
    (case.lay)(folder.path());
    let begin = Instant::now();
    let output = run(folder.path(), case.arguments);
    let said = said(&output);
    let what = case.what;
    if begin.elapsed() > MOST {
        return Some(format!("{what}: it took {:?}", begin.elapsed()));
    }
    if output.status.code() != Some(case.code) {
        return Some(format!("{what}: exit {:?}, expected {}: {said}", output.status, case.code));
    }
    if !said.contains(case.says) {
        return Some(format!("{what}:\n  expected: {}\n  said:     {said}", case.says));
    }
    if said.contains("panicked") || said.contains("NaN") {
        return Some(format!("{what}: {said}"));
    }
    let halves = halves(folder.path());
    (!halves.is_empty()).then(|| format!("{what}: half a file is left: {halves:?}"))
}

/// Files that were begun and not ended.
fn halves(folder: &Path) -> Vec<String> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        let path = entry.path();
        let kind = entry.file_type().unwrap();
        if kind.is_dir() {
            found.extend(halves(&path));
        } else if path.extension().is_some_and(|ending| ending == "part") {
            found.push(path.display().to_string());
        }
    }
    found
}

/// Runs every row, two at a time, and tells all complaints at once.
fn check(table: &[Case]) {
    let next = AtomicUsize::new(0);
    let work = || {
        let mut complaints = Vec::new();
        while let Some(case) = table.get(next.fetch_add(1, Ordering::Relaxed)) {
            complaints.extend(complaint(case));
        }
        complaints
    };
    let complaints = std::thread::scope(|scope| {
        let other = scope.spawn(work);
        let mut complaints = work();
        complaints.extend(other.join().unwrap());
        complaints
    });
    assert!(complaints.is_empty(), "{} complaint(s):\n{}", complaints.len(), complaints.join("\n"));
}

#[test]
fn the_tables_hold_many_kinds_and_no_row_twice() {
    let mut rows: Vec<&str> = [sound::TABLE, folders::TABLE, texts::TABLE]
        .into_iter()
        .flatten()
        .map(|case| case.what)
        .collect();
    assert!(rows.len() >= 40, "{} kinds of bad input", rows.len());
    rows.sort_unstable();
    let n_rows = rows.len();
    rows.dedup();
    assert_eq!(rows.len(), n_rows, "a row stands twice");
}

#[test]
fn a_wrong_sentence_and_a_wrong_exit_code_are_seen() {
    let right = || Case {
        what: "no session",
        lay: |_| {},
        arguments: REVIEW,
        code: 1,
        says: "cannot look into `night`: it does not exist",
    };
    assert_eq!(complaint(&right()), None);
    assert!(complaint(&Case { code: 0, ..right() }).is_some());
    assert!(complaint(&Case { says: "all is well", ..right() }).is_some());
}
