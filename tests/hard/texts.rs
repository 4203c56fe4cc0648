//! Texts that people and machines hand in: `session.toml`, targets, marks, stored reviews, the history.

use std::fs;
use std::path::Path;

use super::{Case, REVIEW, night};

fn note(folder: &Path, text: &[u8]) {
    fs::write(night(folder).join("session.toml"), text).unwrap();
}

/// A text beside the session.
fn text(folder: &Path, name: &str, text: &str) {
    night(folder);
    fs::write(folder.join(name), text).unwrap();
}

const TARGETS: &[&str] = &["review", "night", "--no-excerpts", "--targets", "team.toml"];
const MARKS: &[&str] = &["review", "night", "--no-excerpts", "--marks", "marks.json"];
const SHEET: &[&str] = &["sheet", "review.json"];
const HISTORY: &[&str] = &["history", "show", "--history", "history.db"];

pub(super) const TABLE: &[Case] = &[
    Case {
        what: "a note that is no UTF-8",
        lay: |folder| note(folder, b"name = \"J\xf6rg\"\n"),
        arguments: REVIEW,
        code: 1,
        says: "error: cannot read `night/session.toml`: it is no UTF-8 text (save it again as UTF-8 in your editor)",
    },
    Case {
        what: "a note that is a folder",
        lay: |folder| fs::create_dir(night(folder).join("session.toml")).unwrap(),
        arguments: REVIEW,
        code: 1,
        says: "error: cannot read `night/session.toml`: it is a folder, a file is expected (make the file readable, or move it out of the folder)",
    },
    Case {
        what: "a note that is no TOML",
        lay: |folder| note(folder, b"name = \"Night\nstyle = 3"),
        arguments: REVIEW,
        code: 1,
        says: "error: cannot understand `night/session.toml`: line 1",
    },
    Case {
        what: "a note with a key that is not known",
        lay: |folder| note(folder, b"operater = \"wren\"\n"),
        arguments: REVIEW,
        code: 1,
        says: "error: cannot understand `night/session.toml`: line 1: there is no key `operater` (write `operator`)",
    },
    Case {
        what: "a note with a value of another kind",
        lay: |folder| note(folder, b"name = 3\n"),
        arguments: REVIEW,
        code: 1,
        says: "error: cannot understand `night/session.toml`: line 1, key `name`: found integer `3` (write a text in quotes)",
    },
    Case {
        what: "a note with control characters",
        lay: |folder| note(folder, b"in_e[limit]name X\0ood \r\r\rstag = 1\n"),
        arguments: REVIEW,
        code: 1,
        says: "error: cannot understand `night/session.toml`: line 1, key `in_e[limit]name X ood stag`",
    },
    Case {
        what: "a note without end of a list",
        lay: |folder| note(folder, "x = [".repeat(5_000).as_bytes()),
        arguments: REVIEW,
        code: 1,
        says: "error: cannot understand `night/session.toml`: line 1",
    },
    Case {
        what: "targets that are not there",
        lay: |folder| drop(night(folder)),
        arguments: TARGETS,
        code: 1,
        says: "error: cannot read `team.toml`: there is no such file (check the path and the permissions)",
    },
    Case {
        what: "targets for a rule that is not known",
        lay: |folder| text(folder, "team.toml", "[rules.gain-to-low]\noff = true\n"),
        arguments: TARGETS,
        code: 1,
        says: "error: cannot use `team.toml`:",
    },
    Case {
        what: "targets that are no TOML",
        lay: |folder| text(folder, "team.toml", "]["),
        arguments: TARGETS,
        code: 1,
        says: "error: cannot use `team.toml`:",
    },
    Case {
        what: "marks that are cut off",
        lay: |folder| text(folder, "marks.json", "{\"schema\": \"deskside-marks/1\", \"marks\": ["),
        arguments: MARKS,
        code: 1,
        says: "error: cannot use `marks.json`: EOF while parsing a list at line 1 column 41 (save the marks again from the page, or move the file away)",
    },
    Case {
        what: "marks of another format",
        lay: |folder| {
            text(folder, "marks.json", "{\"schema\": \"deskside-marks/9\", \"marks\": []}");
        },
        arguments: MARKS,
        code: 1,
        says: "error: cannot use `marks.json`: its format is `deskside-marks/9`, and `deskside-marks/1` is what this version reads (save the marks again from the page, or move the file away)",
    },
    Case {
        what: "marks of a rule that is not known",
        lay: |folder| {
            text(
                folder,
                "marks.json",
                "{\"schema\": \"deskside-marks/1\", \"marks\": [{\"rule\": \"x\", \"mark\": \"fits\"}]}",
            );
        },
        arguments: MARKS,
        code: 1,
        says: "error: cannot use `marks.json`: there is no rule `x` (list the rules with `deskside explain --list`)",
    },
    Case {
        what: "a stored review that is not there",
        lay: |folder| drop(night(folder)),
        arguments: SHEET,
        code: 1,
        says: "error: cannot read `review.json`: there is no such file (check the path and the permissions)",
    },
    Case {
        what: "a stored review that is cut off",
        lay: |folder| text(folder, "review.json", "{\"schema\": \"deskside-rev"),
        arguments: SHEET,
        code: 1,
        says: "error: cannot use `review.json`: it is no review (EOF while parsing a string",
    },
    Case {
        what: "a stored review of another version",
        lay: |folder| text(folder, "review.json", "{\"schema\": \"deskside-review/99\"}"),
        arguments: SHEET,
        code: 1,
        says: "error: cannot use `review.json`: its format is `deskside-review/99`, expected `deskside-review/1`",
    },
    Case {
        what: "a stored review of brackets alone",
        lay: |folder| text(folder, "review.json", &"[".repeat(100_000)),
        arguments: SHEET,
        code: 1,
        says: "error: cannot use `review.json`: it is no review (",
    },
    Case {
        what: "a history that is none",
        lay: |folder| text(folder, "history.db", "a diary, and no history at all"),
        arguments: HISTORY,
        code: 1,
        says: "error: cannot use `history.db`: it is no history of deskside (name another file)",
    },
];

#[test]
fn bad_texts_are_refused_in_one_sentence() {
    super::check(TABLE);
}
