//! Places that can't be written: a full disk, one that can only be read, and files that vanish or shrink under the reader.

use std::fs;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use deskside::audio::{Takes, TrustHeader};

use super::{good, halves, night, run, said};
use crate::support::wavefile::{Kind, plain, put};

/// Runs the program where no file may grow beyond so many blocks of 512 bytes. The signal that would end it is held off, so that it is
/// told as on a full disk.
fn run_small(folder: &Path, n_blocks: u32, arguments: &str) -> Output {
    let program = env!("CARGO_BIN_EXE_deskside");
    let script = format!("trap '' XFSZ; ulimit -f {n_blocks}; exec '{program}' {arguments}");
    Command::new("sh").args(["-c", &script]).current_dir(folder).output().unwrap()
}

/// Asserts that a run stopped with this sentence and left nothing half done.
fn refuses(folder: &Path, output: &Output, sentence: &str) {
    let said = said(output);
    assert_eq!(output.status.code(), Some(1), "{said}");
    assert!(said.contains(sentence), "`{sentence}` in: {said}");
    assert!(halves(folder).is_empty(), "half a file is left: {:?}", halves(folder));
}

#[test]
fn a_disk_that_is_full_while_a_review_is_written_is_told() {
    let folder = tempfile::tempdir().unwrap();
    night(folder.path());
    let output = run_small(folder.path(), 2, "review night --no-excerpts --quiet");
    refuses(
        folder.path(),
        &output,
        "error: cannot write `night-review/review.json`: the file would be larger than the system allows (make room there, or choose another place)",
    );
    assert!(!folder.path().join("night-review").exists(), "no folder is left");
}

#[test]
fn a_review_from_before_outlives_a_full_disk() {
    let folder = tempfile::tempdir().unwrap();
    night(folder.path());
    run(folder.path(), &["review", "night", "--no-excerpts", "--quiet"]);
    let review = folder.path().join("night-review/review.json");
    let before = fs::read(&review).unwrap();
    good(&folder.path().join("night"), "02 Bass.wav");
    let output = run_small(folder.path(), 2, "review night --no-excerpts --quiet");
    refuses(folder.path(), &output, "error: cannot write `night-review/review.json`:");
    assert_eq!(fs::read(&review).unwrap(), before, "the review as it was");
}

#[test]
fn a_history_that_finds_no_room_is_told_and_the_review_is_there() {
    let folder = tempfile::tempdir().unwrap();
    night(folder.path());
    let arguments = "review night --no-excerpts --quiet --remember --history h.db";
    let output = run_small(folder.path(), 8, arguments);
    refuses(folder.path(), &output, "error: cannot use `h.db`:");
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_behind_standard_output_is_told() {
    let folder = tempfile::tempdir().unwrap();
    night(folder.path());
    for arguments in [&["channels", "night"][..], &["explain", "--list"], &["targets", "show"]] {
        let full = fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
        let program = Command::new(env!("CARGO_BIN_EXE_deskside"))
            .args(arguments)
            .current_dir(folder.path())
            .stdout(Stdio::from(full))
            .output()
            .unwrap();
        refuses(folder.path(), &program, "error: cannot print: the disk is full");
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_place_that_takes_no_file_is_told() {
    let folder = tempfile::tempdir().unwrap();
    night(folder.path());
    let output = run(folder.path(), &["review", "night", "--no-excerpts", "--out", "/proc/self/x"]);
    refuses(folder.path(), &output, "error: cannot write `/proc/self/x`:");
    put(folder.path(), "occupied", b"a file");
    let output = run(folder.path(), &["review", "night", "--no-excerpts", "--out", "occupied"]);
    refuses(folder.path(), &output, "error: cannot write `occupied");
}

#[test]
fn a_recording_that_vanishes_before_it_is_read_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let path = put(folder.path(), "x.wav", &plain(Kind::S24, 9_600, 1, 48_000));
    let mut takes = Takes::new(vec![path.clone()], TrustHeader::No).unwrap();
    fs::remove_file(&path).unwrap();
    let error = takes.read(100, &mut [Vec::new()]).expect_err("it is gone");
    assert_eq!(
        error.sentence(),
        format!("cannot read `{}`: it does not exist (check the name)", path.display())
    );
}

#[test]
fn a_recording_that_changes_under_the_reader_gives_no_more_than_was_promised() {
    let folder = tempfile::tempdir().unwrap();
    let path = put(folder.path(), "x.wav", &plain(Kind::S24, 9_600, 1, 48_000));
    let mut takes = Takes::new(vec![path.clone()], TrustHeader::No).unwrap();
    let mut plane = [Vec::new()];
    takes.read(100, &mut plane).unwrap();
    // It grows while a recorder still writes: what came later is left for the next review.
    put(folder.path(), "x.wav", &plain(Kind::S24, 96_000, 1, 48_000));
    while takes.read(4_800, &mut plane).unwrap() > 0 {}
    assert_eq!(plane[0].len(), 9_600, "the frames that were there at the begin");
    // It becomes another file, shorter than what was read.
    let mut takes = Takes::new(vec![path.clone()], TrustHeader::No).unwrap();
    takes.read(50_000, &mut plane).unwrap();
    fs::OpenOptions::new().write(true).open(&path).unwrap().set_len(1_000).unwrap();
    assert_eq!(takes.read(4_800, &mut plane).unwrap(), 0, "nothing comes");
    assert!(takes.repairs().concat().contains("The file became shorter while it was read"));
}
