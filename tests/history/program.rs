//! The history from outside: what the commands store, show, print and erase.

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use serde_json::Value;

use crate::support::{golden, signals, wave};

const RATE_HZ: u32 = 48_000;

fn run(dir: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_deskside"))
        .args(arguments)
        .current_dir(dir)
        // The usual place of the history must not be that of whoever runs the tests.
        .env("XDG_DATA_HOME", dir.join("data"))
        .env("HOME", dir)
        .output()
        .unwrap()
}

fn told(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// Standard output of a run that has to succeed.
fn prints(dir: &Path, arguments: &[&str]) -> String {
    let output = run(dir, arguments);
    assert_eq!(output.status.code(), Some(0), "{arguments:?}: {}", told(&output));
    String::from_utf8(output.stdout).unwrap()
}

/// What a run says that has to fail with one sentence.
fn refuses(dir: &Path, arguments: &[&str]) -> String {
    let output = run(dir, arguments);
    assert_eq!(output.status.code(), Some(1), "{arguments:?}");
    let message = told(&output);
    assert_eq!(message.matches("error: ").count(), 1, "one sentence: {message}");
    message
}

fn session(folder: &Path, seconds: f64) {
    fs::create_dir_all(folder).unwrap();
    let n_samples = signals::samples(RATE_HZ, seconds);
    for (number, name) in ["Kick", "LV"].iter().enumerate() {
        let tone = signals::sine(RATE_HZ, 110.0 * (number + 1) as f64, 0.1, 0.0, n_samples);
        wave::write_pcm24(&folder.join(format!("{number:02} {name}.wav")), RATE_HZ, &[&tone]);
    }
}

/// Sessions as JSON, one a line.
fn stored(dir: &Path, arguments: &[&str]) -> Vec<Value> {
    let lines = prints(dir, arguments);
    lines.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

#[test]
fn the_invented_weeks_print_what_they_should() {
    let dir = tempfile::tempdir().unwrap();
    prints(dir.path(), &["demo", "--history", "weeks.sqlite"]);
    let mut all = String::new();
    for who in [
        &["--operator", "wren"][..],
        &["--operator", "heron"],
        &["--operator", "kestrel"],
        &["--team"],
    ] {
        let arguments = [&["habits", "--history", "weeks.sqlite"], who].concat();
        all += &prints(dir.path(), &arguments);
        all += "\n";
    }
    for line in [
        "steadier",
        "no clear change yet",
        "too early to say",
        "in 8 of 10 weeks, whoever operates",
    ] {
        assert!(all.contains(line), "`{line}` in: {all}");
    }
    golden::compare("corpus/demo/expected-habits.txt", &all);
    let team = prints(dir.path(), &["habits", "--history", "weeks.sqlite", "--format", "json"]);
    for label in ["wren", "heron", "kestrel"] {
        assert!(!team.contains(label), "the team's view names nobody: {label}");
    }
    let message = refuses(dir.path(), &["demo", "--history", "weeks.sqlite"]);
    assert!(message.contains("exists already"), "{message}");
}

#[test]
fn a_page_of_habits_takes_the_place_of_a_page_only() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    prints(dir, &["demo", "--history", "weeks.sqlite"]);
    let habits = ["habits", "--history", "weeks.sqlite", "--operator", "wren", "--page"];
    for _ in 0..2 {
        let text = prints(dir, &[&habits[..], &["out/wren.html"]].concat());
        assert!(text.contains("Habits of wren"), "the table is printed as well: {text}");
    }
    let html = fs::read_to_string(dir.join("out/wren.html")).unwrap();
    assert!(html.starts_with("<!DOCTYPE html>") && html.ends_with("</html>"), "whole");
    let message = refuses(dir, &[&habits[..], &["weeks.sqlite"]].concat());
    assert!(message.contains("exists already"), "the history is not written over: {message}");
}

#[test]
fn a_review_is_stored_on_request_only_and_once() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    session(&dir.join("night"), 1.5);
    prints(dir, &["review", "night", "--quiet"]);
    let message = refuses(dir, &["history", "show"]);
    assert!(message.contains("there is no history yet"), "{message}");
    for _ in 0..2 {
        prints(dir, &["review", "night", "--quiet", "--remember", "--operator", "wren"]);
    }
    let shown = prints(dir, &["history", "show"]);
    assert!(shown.contains("1 session"), "{shown}");
    assert!(shown.contains("wren: 1 session"), "{shown}");
    assert!(dir.join("data/deskside/history.sqlite").is_file() || cfg!(not(target_os = "linux")));
    let sessions = stored(dir, &["history", "export", "wren"]);
    assert_eq!(sessions[0]["name"], "night");
    assert_eq!(sessions[0]["operator"], "wren");
    let bytes = fs::read(dir.join("data/deskside/history.sqlite")).unwrap().len();
    assert!(bytes < 200_000, "numbers and no sound: {bytes} bytes");
}

#[test]
fn marks_go_with_the_session_out_of_its_folder_and_away_with_its_label() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    session(&dir.join("night"), 1.5);
    let memory = ["--history", "team.sqlite"];
    let review = ["review", "night", "--quiet", "--remember", "--operator", "wren"];
    prints(dir, &[&review[..], &memory].concat());
    let marks = || stored(dir, &[&["history", "export"][..], &memory].concat())[0]["marks"].clone();
    assert_eq!(marks(), serde_json::json!([]), "nothing is marked yet");
    let review: Value =
        serde_json::from_slice(&fs::read(dir.join("night-review/review.json")).unwrap()).unwrap();
    let notes = ["notes", "mentor", "lead"].iter().find_map(|page| review[page].get(0));
    let rule = notes.expect("a note to mark")["rule"].as_str().unwrap().to_owned();
    prints(dir, &["mark", "night-review", &rule, "does-not-fit", "--comment", "a private word"]);
    prints(dir, &[&["history", "add", "night-review/review.json"][..], &memory].concat());
    assert_eq!(marks()[0]["rule"], rule.as_str());
    assert_eq!(marks()[0]["mark"], "does-not-fit", "a mark made later is taken in");
    let holds = |text: &str| {
        let bytes = fs::read(dir.join("team.sqlite")).unwrap();
        bytes.windows(text.len()).any(|part| part == text.as_bytes())
    };
    assert!(holds("does-not-fit") && !holds("a private word"), "the mark, and not its words");
    prints(dir, &[&["history", "erase", "wren"][..], &memory].concat());
    assert!(!holds("does-not-fit"), "it goes with the label");
}

#[test]
fn a_review_knows_the_nights_before_it_only_where_it_is_asked_to() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let memory = ["--remember", "--history", "team.sqlite"];
    let review = |night: &str, further: &[&str]| {
        let plain = ["review", night, "--operator", "wren", "--no-excerpts", "--format", "json"];
        prints(dir, &[&plain[..], further].concat())
    };
    for (number, night) in ["a", "b", "c"].iter().enumerate() {
        let n_samples = signals::samples(RATE_HZ, 22.0 + number as f64);
        let tone = signals::sine(RATE_HZ, 220.0, 1.3, 0.0, n_samples);
        let cut: Vec<f32> = tone.iter().map(|sample| sample.clamp(-0.999, 0.999)).collect();
        fs::create_dir(dir.join(night)).unwrap();
        wave::write_pcm24(&dir.join(night).join("01 Kick.wav"), RATE_HZ, &[&cut]);
    }
    let without = review("c", &[]);
    assert!(!without.contains("recurred"), "{without}");
    assert!(!without.contains("\"is_kept\": true"), "{without}");
    review("a", &memory);
    review("b", &memory);
    let third: Value = serde_json::from_str(&review("c", &memory)).unwrap();
    assert_eq!(third["notes"][0]["rule"], "clip-input");
    assert_eq!(third["notes"][0]["recurred"]["n_hits"], 3, "twice before and tonight");
    assert_eq!(third["focus"]["is_kept"], true);
    assert_eq!(review("c", &[]), without, "nothing of it without the history");
}

#[test]
fn many_sessions_are_taken_up_where_they_were_left() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    for (number, night) in ["a", "b", "c"].iter().enumerate() {
        session(&dir.join("season").join(night), 1.0 + 0.1 * number as f64);
    }
    fs::create_dir(dir.join("season/d")).unwrap();
    prints(dir, &["review", "season/a", "--quiet"]);
    let first = fs::read(dir.join("season/a-review/review.json")).unwrap();
    fs::write(dir.join("season/a-review/review.json"), &first).unwrap();
    let modified = |night: &str| {
        let file = dir.join("season").join(format!("{night}-review/review.json"));
        fs::metadata(file).unwrap().modified().unwrap()
    };
    let before = modified("a");
    // An empty folder among them is told at the end and stops nothing.
    let memory = ["--remember", "--history", "team.sqlite"];
    let message = refuses(dir, &[&["review", "--each", "season"][..], &memory].concat());
    assert!(message.contains("season/d"), "{message}");
    assert!(message.contains("skipped 1 session"), "{message}");
    assert_eq!(modified("a"), before, "its review is left as it was");
    assert_eq!(
        stored(dir, &["history", "export", "--history", "team.sqlite"]).len(),
        3,
        "all are stored"
    );
    fs::create_dir(dir.join("season/c2")).unwrap();
    fs::write(dir.join("season/c2/01 Kick.wav"), b"RIFF").unwrap();
    let output = run(dir, &[&["review", "--each", "season"][..], &memory].concat());
    let message = told(&output);
    assert_eq!(output.status.code(), Some(1), "{message}");
    assert!(message.contains("skipped 3 sessions"), "{message}");
    let end: Vec<&str> = message.lines().rev().take(2).collect();
    assert!(
        end[1].starts_with("error: ") && end[1].contains("season/c2"),
        "what failed stands at the end: {message}"
    );
    assert!(end[0].starts_with("error: ") && end[0].contains("season/d"), "{message}");
    let message = told(&run(dir, &["review", "--each", "season", "--again"]));
    assert!(!message.contains("skipped"), "{message}");
    assert!(modified("a") > before, "reviewed anew");
}

#[test]
fn exported_rows_say_the_same_as_csv_and_as_json() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    prints(dir, &["demo", "--history", "weeks.sqlite"]);
    let export = |format: &str| {
        prints(dir, &["history", "export", "wren", "--history", "weeks.sqlite", "--format", format])
    };
    let csv = export("csv");
    let mut lines = csv.split("\r\n").filter(|line| !line.is_empty());
    let columns: Vec<&str> = lines.next().unwrap().split(',').collect();
    let json = export("jsonl");
    let mut n_rows = 0;
    for (line, json) in lines.zip(json.lines()) {
        let row: Value = serde_json::from_str(json).unwrap();
        assert_eq!(row.as_object().unwrap().len(), columns.len(), "as many keys as columns");
        assert_eq!(row["operator"], "wren");
        // The names of the sessions hold a comma, so that cell is in quotes.
        let (session, rest) = line.strip_prefix('"').unwrap().split_once('"').unwrap();
        assert_eq!(row["session"], session);
        for (column, cell) in columns[1..].iter().zip(rest[1..].split(',')) {
            let value = &row[*column];
            let expected = if value.is_null() { String::new() } else { value.to_string() };
            assert_eq!(cell, expected.trim_matches('"'), "{column}");
        }
        n_rows += 1;
    }
    assert_eq!(n_rows, json.lines().count(), "as many rows");
    assert!(n_rows > 40, "eight sessions");
}

#[test]
fn parquet_is_written_whole_beside_nothing_and_over_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    prints(dir, &["demo", "--history", "weeks.sqlite"]);
    let export = ["history", "export", "--history", "weeks.sqlite", "--format", "parquet"];
    let message = refuses(dir, &export);
    assert!(message.contains("--out"), "it is no text to print: {message}");
    let named = [&export[..], &["--out", "out/rows.parquet"]].concat();
    prints(dir, &named);
    let first = fs::read(dir.join("out/rows.parquet")).unwrap();
    // Apache Parquet, "File format": four bytes at either end, and the length of the footer before the last four.
    assert!(first.starts_with(b"PAR1") && first.ends_with(b"PAR1"), "whole");
    assert_eq!(fs::read_dir(dir.join("out")).unwrap().count(), 1, "nothing beside it");
    let message = refuses(dir, &named);
    assert!(message.contains("exists already"), "{message}");
    prints(dir, &[&export[..], &["--out", "again.parquet"]].concat());
    assert_eq!(fs::read(dir.join("again.parquet")).unwrap(), first, "same rows, same bytes");
    let text = prints(dir, &["history", "export", "--history", "weeks.sqlite"]);
    prints(dir, &["history", "export", "--history", "weeks.sqlite", "--out", "all.jsonl"]);
    assert_eq!(fs::read_to_string(dir.join("all.jsonl")).unwrap(), text, "a file for a pipe");
}

#[test]
fn a_label_is_erased_and_an_unknown_one_is_told() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    prints(dir, &["demo", "--history", "weeks.sqlite"]);
    let erase = |label: &str| run(dir, &["history", "erase", label, "--history", "weeks.sqlite"]);
    let output = erase("robin");
    assert_eq!(output.status.code(), Some(1));
    assert!(told(&output).contains("there is no session of `robin`"), "{}", told(&output));
    for label in ["wren", "heron", "kestrel"] {
        assert!(!told(&output).contains(label), "no other label is named: {}", told(&output));
    }
    assert_eq!(erase("wren").status.code(), Some(0));
    let bytes = fs::read(dir.join("weeks.sqlite")).unwrap();
    assert!(!bytes.windows(4).any(|part| part == b"wren"), "no trace in the file");
    assert_eq!(erase("wren").status.code(), Some(1), "there is nothing left to erase");
    assert_eq!(stored(dir, &["history", "export", "--history", "weeks.sqlite"]).len(), 9);
}

#[test]
fn how_long_sessions_are_kept_is_told() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    prints(dir, &["demo", "--history", "weeks.sqlite"]);
    let show = || prints(dir, &["history", "show", "--history", "weeks.sqlite"]);
    assert!(show().contains("sessions are kept\n"), "{}", show());
    // The invented weeks lie far ahead.
    let kept = prints(dir, &["history", "keep", "12", "--history", "weeks.sqlite"]);
    assert!(kept.contains("kept for 12 months; erased: 0 sessions"), "{kept}");
    assert!(show().contains("sessions are kept for 12 months"), "{}", show());
    prints(dir, &["history", "keep", "all", "--history", "weeks.sqlite"]);
    assert!(show().contains("sessions are kept\n"), "{}", show());
}

#[test]
fn habits_of_nobody_and_wrong_usage_are_told() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    prints(dir, &["demo", "--history", "weeks.sqlite"]);
    let message = refuses(dir, &["habits", "--operator", "robin", "--history", "weeks.sqlite"]);
    assert!(message.contains("robin"), "{message}");
    for wrong in [
        &["habits", "--role", "trombonist"][..],
        &["habits", "--last", "0"],
        &["history", "keep", "0"],
        &["habits", "--team", "--operator", "wren"],
        &["demo", "--history", "x.sqlite", "--full"],
        &["review", "night", "--history", "x.sqlite"],
    ] {
        assert_eq!(run(dir, wrong).status.code(), Some(2), "{wrong:?}");
    }
}
