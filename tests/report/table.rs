//! The review in a terminal and in a pipe.

use deskside::coach::{self, Aims, Options};
use deskside::reading::Reading;
use deskside::report::table::{self, Extent, Page};
use deskside::report::{Look, text};

use crate::support::{evening, golden};

fn printed(look: Look, reading: &Reading, extent: Extent) -> String {
    let advice = coach::coach(reading, &Aims::default(), &Options::default());
    let files = ["tallow-review/review.json".to_owned()];
    table::review(look, &Page { reading, advice: &advice, files: &files, extent, spill: false })
}

/// Checks that a text keeps to its columns and holds nothing that acts on a screen.
fn check(printed: &str, width: usize) {
    for line in printed.lines() {
        assert!(text::width(line) <= width, "{} columns in {width}: {line}", text::width(line));
        assert!(!line.chars().any(char::is_control), "{line:?}");
    }
}

#[test]
fn the_chosen_notes_read_well_at_80_columns() {
    let printed = printed(Look::PIPE, &evening::evening(), Extent::Chosen);
    check(&printed, 80);
    golden::compare("corpus/report/chosen-80.txt", &printed);
}

#[test]
fn everything_reads_well_at_80_and_120_columns() {
    for width in [80, 120] {
        let printed = printed(Look::terminal(width, false), &evening::evening(), Extent::All);
        check(&printed, width);
        golden::compare(&format!("corpus/report/all-{width}.txt"), &printed);
    }
}

#[test]
fn a_pipe_gets_no_control_codes() {
    let piped = printed(Look::PIPE, &evening::evening(), Extent::All);
    assert!(!piped.contains('\u{1b}'));
    let coloured = printed(Look::terminal(80, true), &evening::evening(), Extent::All);
    assert!(coloured.contains('\u{1b}'), "colour was asked for");
}

#[test]
fn colour_adds_nothing_but_colour() {
    let piped = printed(Look::PIPE, &evening::evening(), Extent::All);
    let coloured = printed(Look::terminal(80, true), &evening::evening(), Extent::All);
    let mut bare = String::new();
    let mut rest = coloured.as_str();
    while let Some((before, after)) = rest.split_once("\u{1b}[") {
        bare.push_str(before);
        rest = after.split_once('m').map_or("", |(_, rest)| rest);
    }
    bare.push_str(rest);
    // Cells are filled up to their column before the colour ends.
    let trimmed: String = bare.lines().flat_map(|line| [line.trim_end(), "\n"]).collect();
    assert_eq!(golden::first_difference(&piped, &trimmed), None);
}

#[test]
fn names_from_outside_do_no_harm() {
    let mut reading = evening::evening();
    reading.session.name = "Night \u{1b}[2J of\nthe \u{202e}flood".to_owned();
    reading.segments[3].title = "\u{7}Bells ".repeat(40);
    for channel in &mut reading.channels {
        channel.name = format!("{}\u{1b}[31m\t|<b>🎤 {}", channel.name, "long ".repeat(30));
    }
    reading.warnings.push("\u{1b}]0;title\u{7} left out".to_owned());
    for extent in [Extent::Chosen, Extent::All] {
        check(&printed(Look::PIPE, &reading, extent), 80);
    }
}

#[test]
fn a_narrow_or_very_wide_terminal_gets_readable_lines() {
    check(&printed(Look::terminal(20, false), &evening::evening(), Extent::Chosen), 60);
    check(&printed(Look::terminal(400, false), &evening::evening(), Extent::Chosen), 120);
}

#[test]
fn an_evening_without_findings_says_so() {
    let mut reading = evening::evening();
    reading.channels.clear();
    reading.pairs.clear();
    reading.main = None;
    reading.segments.clear();
    let printed = printed(Look::PIPE, &reading, Extent::Chosen);
    assert!(printed.contains("No note today."), "{printed}");
    assert!(printed.contains("Not judged"), "{printed}");
}
