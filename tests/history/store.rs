//! The file: what goes in comes out, once, also for two writers; what is erased is gone; foreign files are left alone.

use std::fs;
use std::path::Path;
use std::thread;

use deskside::history::{Marked, Night, Note, Store};

use super::{record, seen};

fn open(path: &Path) -> Store {
    Store::open(path).unwrap_or_else(|error| panic!("{}", error.sentence()))
}

fn nights(store: &Store) -> Vec<Night> {
    store.nights(None, usize::MAX).unwrap()
}

fn refusal(path: &Path) -> String {
    Store::open(path).expect_err("it is refused").sentence()
}

fn marked(rule: &str, channels: &[&str], mark: &str) -> Marked {
    Marked {
        rule: rule.to_owned(),
        channels: channels.iter().map(|name| (*name).to_owned()).collect(),
        mark: mark.to_owned(),
    }
}

#[test]
fn what_is_stored_comes_back_oldest_first() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = open(&dir.path().join("new/folder/history.sqlite"));
    let mut late =
        record(9, "wren", vec![seen("cue-late", "LV", 1, 4), seen("hum-buzz", "", 0, 1)]);
    late.observations[0].value = Some(0.7);
    late.observations[0].number = Some("latest entry".to_owned());
    late.observations[0].unit = Some("s".to_owned());
    late.observations[0].severity = Some("amber".to_owned());
    late.notes = vec![Note { page: "trainee".to_owned(), rule: "cue-late".to_owned() }];
    late.is_good = Some(true);
    late.focus = Some("cue-late".to_owned());
    late.marks =
        vec![marked("cue-late", &["LV", "Host HH"], "on-purpose"), marked("hum-buzz", &[], "fits")];
    let early = record(2, "heron", vec![]);
    store.remember(&late).unwrap();
    store.remember(&early).unwrap();
    let found = nights(&store);
    assert_eq!(found.iter().map(|night| &night.record).collect::<Vec<_>>(), [&early, &late]);
    // 2 May 2031 is a Friday, 9 May the next (perpetual calendar).
    assert_eq!(found[1].week - found[0].week, 1, "a week apart");
    assert_eq!(store.nights(Some("wren"), 5).unwrap().len(), 1, "of one label");
    assert_eq!(store.nights(None, 1).unwrap()[0].record, late, "the last one");
}

#[test]
fn weeks_begin_on_monday() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = open(&dir.path().join("history.sqlite"));
    // 4 and 5 May 2031 are a Sunday and a Monday (perpetual calendar).
    for day in [4, 5, 11] {
        store.remember(&record(day, "wren", vec![])).unwrap();
    }
    let weeks: Vec<i64> = nights(&store).iter().map(|night| night.week).collect();
    assert_eq!([weeks[1] - weeks[0], weeks[2] - weeks[1]], [1, 0]);
}

#[test]
fn the_same_session_takes_the_place_of_the_first() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = open(&dir.path().join("history.sqlite"));
    store.remember(&record(3, "wren", vec![seen("cue-late", "LV", 3, 4)])).unwrap();
    let mut again = record(3, "heron", vec![seen("cue-late", "LV", 1, 5)]);
    again.place = None;
    store.remember(&again).unwrap();
    let found = nights(&store);
    assert_eq!(found.len(), 1, "one session");
    assert_eq!(found[0].record, again, "the later one");
    // Two parts of one evening have two lengths.
    again.duration_s += 60.0;
    store.remember(&again).unwrap();
    assert_eq!(nights(&store).len(), 2, "two parts of an evening");
}

#[test]
fn two_writers_wait_for_each_other() {
    const N_EACH: usize = 12;
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("history.sqlite");
    thread::scope(|scope| {
        for operator in ["wren", "heron"] {
            let path = &path;
            scope.spawn(move || {
                // Both make the file, both write into it.
                let mut store = open(path);
                for day in 1..=N_EACH {
                    let mut record = record(day, operator, vec![seen("cue-late", "LV", 1, 2)]);
                    record.name = operator.to_owned();
                    store.remember(&record).unwrap();
                }
            });
        }
    });
    let summary = open(&path).summary().unwrap();
    assert_eq!(summary.labels, [("heron".to_owned(), N_EACH), ("wren".to_owned(), N_EACH)]);
    assert_eq!(summary.dates, Some(("2031-05-01".to_owned(), "2031-05-12".to_owned())));
}

/// Whether a text stands anywhere in the bytes of a file.
fn holds_bytes(path: &Path, text: &str) -> bool {
    fs::read(path).unwrap().windows(text.len()).any(|bytes| bytes == text.as_bytes())
}

#[test]
fn erasing_a_label_leaves_no_byte_of_it() {
    const LABEL: &str = "made-up-label-of-an-operator";
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("history.sqlite");
    let mut store = open(&path);
    for day in 1..=20 {
        let many = (0..200).map(|_| seen("cue-late", "channel of the erased", 1, 2)).collect();
        store.remember(&record(day, LABEL, many)).unwrap();
        // Reviewing anew under another label must leave nothing behind either.
        let mut other = record(day, LABEL, vec![seen("hum-buzz", "KB L", 1, 1)]);
        other.name = "another session".to_owned();
        store.remember(&other).unwrap();
        other.operator = Some("wren".to_owned());
        store.remember(&other).unwrap();
    }
    assert!(holds_bytes(&path, LABEL), "it is there before");
    let size_before = fs::metadata(&path).unwrap().len();
    assert_eq!(store.erase(LABEL).unwrap(), 20, "sessions erased");
    for text in [LABEL, "channel of the erased"] {
        assert!(!holds_bytes(&path, text), "`{text}` is gone");
    }
    assert!(fs::metadata(&path).unwrap().len() < size_before / 2, "the file gets smaller");
    let files: Vec<_> = fs::read_dir(dir.path()).unwrap().map(|one| one.unwrap().path()).collect();
    assert_eq!(files, [path], "no second file holds it");
    assert_eq!(nights(&store).len(), 20, "the others stay");
    assert_eq!(store.n_sessions_of(LABEL, "").unwrap(), 0);
}

#[test]
fn a_file_of_something_else_is_refused_and_left_as_it_is() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("notes.txt");
    let text = "a shopping list that is longer than the head of a database, and is left as it is\n"
        .repeat(9);
    fs::write(&path, &text).unwrap();
    assert!(refusal(&path).contains("notes.txt"), "{}", refusal(&path));
    assert!(refusal(&path).contains("no history of deskside"), "{}", refusal(&path));
    assert_eq!(fs::read_to_string(&path).unwrap(), text);

    let other = dir.path().join("other.sqlite");
    let connection = rusqlite::Connection::open(&other).unwrap();
    connection.execute_batch("CREATE TABLE recipe (name TEXT)").unwrap();
    assert!(refusal(&other).contains("no history of deskside"), "{}", refusal(&other));
    connection.execute_batch("PRAGMA user_version = 1").unwrap();
    assert!(refusal(&other).contains("no history of deskside"), "{}", refusal(&other));
}

#[test]
fn a_history_of_a_later_version_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("history.sqlite");
    drop(open(&path));
    let connection = rusqlite::Connection::open(&path).unwrap();
    connection.execute_batch("PRAGMA user_version = 99").unwrap();
    assert!(refusal(&path).contains("its version is 99"), "{}", refusal(&path));
}

#[test]
fn a_history_that_is_not_there_is_told_apart_from_an_empty_one() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("history.sqlite");
    let message = Store::open_existing(&path).expect_err("there is none").sentence();
    assert!(message.contains("there is no history yet"), "{message}");
    assert!(!path.exists(), "looking makes no file");
    drop(open(&path));
    assert_eq!(Store::open_existing(&path).unwrap().summary().unwrap().n_sessions, 0);
}

#[test]
fn a_history_of_the_first_version_is_taken_over() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("history.sqlite");
    // Written by the program as it was then, and never edited since.
    fs::write(&path, include_bytes!("v1.sqlite")).unwrap();
    for _ in 0..2 {
        let store = open(&path);
        let found = nights(&store);
        let labels: Vec<_> =
            found.iter().map(|night| night.record.operator.as_deref().unwrap()).collect();
        assert_eq!(labels, ["wren", "heron"]);
        let one = &found[0].record.observations[0];
        assert_eq!((one.rule.as_str(), one.n_hits, one.n_chances), ("cue-late", 2, 3));
        assert_eq!(store.kept_months().unwrap(), None, "nothing is forgotten unasked");
    }
    let connection = rusqlite::Connection::open(&path).unwrap();
    let version: i64 = connection.query_row("PRAGMA user_version", [], |row| row.get(0)).unwrap();
    assert_eq!(version, 3, "it is of this version now");
}

#[test]
fn a_history_of_the_second_version_is_read_and_takes_marks() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("history.sqlite");
    // Written by the program as it was then, and never edited since.
    fs::write(&path, include_bytes!("v2.sqlite")).unwrap();
    let mut store = open(&path);
    assert_eq!(store.kept_months().unwrap(), Some(1200));
    let mut record = nights(&store).swap_remove(0).record;
    assert_eq!((record.operator.as_deref(), record.focus.as_deref()), (Some("kestrel"), None));
    assert!(record.marks.is_empty(), "nothing was marked then");
    record.marks = vec![marked("cue-late", &["LV"], "does-not-fit")];
    store.remember(&record).unwrap();
    let found = nights(&open(&path));
    assert_eq!((found.len(), &found[0].record), (3, &record), "in its place");
}

#[test]
fn an_undated_session_keeps_the_day_on_which_it_was_first_stored() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("history.sqlite");
    let mut store = open(&path);
    let mut undated = record(1, "wren", vec![]);
    undated.date = None;
    store.remember(&undated).unwrap();
    let connection = rusqlite::Connection::open(&path).unwrap();
    connection.execute("UPDATE session SET stored_on = '2031-01-02'", []).unwrap();
    undated.marks = vec![marked("cue-late", &["LV"], "fits")];
    store.remember(&undated).unwrap();
    let found = nights(&store);
    assert_eq!((found.len(), found[0].day.as_str()), (1, "2031-01-02"));
    assert_eq!(found[0].record, undated);
}

#[test]
fn sessions_older_than_is_kept_go_and_go_again_when_one_is_stored() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("history.sqlite");
    let mut store = open(&path);
    let mut old = record(1, "wren", vec![seen("cue-late", "an old channel", 1, 2)]);
    old.date = Some("2001-02-03".to_owned());
    let mut undated = record(1, "heron", vec![]);
    undated.date = None;
    for record in [&old, &undated] {
        store.remember(record).unwrap();
    }
    assert_eq!(store.keep(Some(12)).unwrap(), 1, "the old one goes");
    assert_eq!(store.kept_months().unwrap(), Some(12));
    assert!(!holds_bytes(&path, "an old channel"), "no byte of it is left");
    assert_eq!(nights(&store).len(), 1, "what was stored today stays");
    store.remember(&old).unwrap();
    assert_eq!(nights(&store).len(), 1, "it is too old to be stored");
    assert_eq!(store.keep(None).unwrap(), 0);
    store.remember(&old).unwrap();
    assert_eq!(nights(&store).len(), 2, "all are kept");
}
