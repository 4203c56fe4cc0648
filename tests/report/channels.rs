//! The table of channels as found in a folder.

use deskside::report::channels::{self, Row};
use deskside::report::{Look, text};

fn row(number: usize, name: &str, role: &'static str) -> Row {
    Row {
        number,
        name: name.to_owned(),
        role,
        found: "name",
        tap: "raw",
        partner: None,
        duration_s: 500.0,
        rate_hz: 48_000,
        bits: 24,
        is_float: false,
        warnings: Vec::new(),
    }
}

fn rows() -> Vec<Row> {
    let mut rows =
        vec![row(1, "Kik", "kick"), row(7, "OH L", "overhead"), row(8, "OH R", "overhead")];
    rows[1].partner = Some("L with 8".to_owned());
    rows[2].partner = Some("R with 7".to_owned());
    rows.push(Row {
        rate_hz: 44_100,
        bits: 32,
        is_float: true,
        ..row(17, "LV \u{1b}[31mred", "lead vocal")
    });
    rows.push(Row {
        warnings: vec![
            "the header promises 8:20, the data ends after 3:10; read to its end".to_owned(),
        ],
        duration_s: 190.0,
        ..row(21, "A very long name that somebody typed in a hurry 🎤", "electric guitar")
    });
    rows
}

#[test]
fn the_table_names_every_channel_and_what_to_know_about_it() {
    let printed = channels::found(Look::PIPE, &rows());
    for part in [
        "Kik",
        "overhead",
        "L with 8",
        "44.1/32f",
        "48/24",
        "08:20",
        "lead vocal",
        "21 A very long name…: the header promises",
    ] {
        assert!(printed.contains(part), "`{part}` is missing:\n{printed}");
    }
}

#[test]
fn the_table_keeps_to_80_columns_and_holds_no_control_codes() {
    let printed = channels::found(Look::PIPE, &rows());
    for line in printed.lines() {
        assert!(text::width(line) <= 80, "{} columns: {line}", text::width(line));
        assert!(!line.chars().any(char::is_control), "{line:?}");
    }
}
