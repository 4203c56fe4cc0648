//! What each microphone hears of the others, as a table.

use deskside::coach::{self, Aims, Options};
use deskside::reading::{Pair, Reading};
use deskside::report::table::{self, Extent, Page};
use deskside::report::{Look, markdown, spill, text};
use deskside::unit::{Fact, Unmeasured};

use crate::support::{evening, golden};

#[test]
fn the_table_reads_well_at_80_and_120_columns() {
    for width in [80, 120] {
        let printed = spill::table(Look::terminal(width, false), &evening::stage());
        for line in printed.lines() {
            assert!(text::width(line) <= width, "{} columns: {line}", text::width(line));
        }
        golden::compare(&format!("corpus/report/spill-{width}.txt"), &printed);
    }
}

#[test]
fn the_table_is_well_formed_markdown() {
    let printed = spill::markdown(&evening::stage());
    golden::compare("corpus/report/spill.md", &printed);
    let table: Vec<&str> = printed.lines().filter(|line| line.starts_with('|')).collect();
    assert!(table.len() > 2, "a heading, a rule and rows");
    for line in &table {
        assert_eq!(line.matches('|').count(), 9, "eight cells: {line}");
    }
}

#[test]
fn the_strongest_neighbour_stands_first_and_a_ceiling_after_what_is_known() {
    let printed = spill::markdown(&evening::stage());
    let at = |name: &str| printed.find(name).unwrap_or_else(|| panic!("{name} is heard"));
    let of_voice =
        [at("| 11 EG amp | -7.4"), at("| 6 OH L | -9.8"), at("| 18 Backing Vocal 1 | -12.3")];
    assert!(of_voice.is_sorted(), "by level: {of_voice:?}");
    assert!(!printed.contains("&lt;-6.0"), "three known levels leave no room for a ceiling");
    let mut few = evening::stage();
    few.pairs.retain(|pair| pair.source != "ch18");
    let printed = spill::markdown(&few);
    let at = |name: &str| printed.find(name).unwrap_or_else(|| panic!("{name} is heard"));
    assert!(at("| 6 OH L | -9.8") < at("| 2 Sn Top | &lt;-6.0"), "a ceiling comes last");
}

#[test]
fn what_could_not_be_measured_is_said_once_for_each_reason() {
    let printed = spill::markdown(&evening::stage());
    assert!(
        printed.contains(
            "Not measured: 4 of 11 ways of spill; too little was heard of it (5 s are needed): \
             19 BV 2 and 17 LV; its level differs between halves: 11 EG amp."
        ),
        "{printed}"
    );
}

#[test]
fn a_microphone_without_a_source_is_named_itself() {
    let mut stage = evening::stage();
    for pair in stage.pairs.iter_mut().filter(|pair| pair.mic == "ch06") {
        pair.bleed_db = Fact::missing(Unmeasured::NO_OWN_SOURCE);
    }
    let printed = spill::markdown(&stage);
    assert!(printed.contains("no source of its own was heard there: 6 OH L"), "{printed}");
}

#[test]
fn an_arrival_that_is_not_sure_carries_a_mark() {
    let mut stage = evening::stage();
    assert!(!spill::markdown(&stage).contains("| ~"), "all are sure");
    let is_it = |pair: &&mut Pair| pair.mic == "ch06" && pair.source == "ch02";
    let pair = stage.pairs.iter_mut().find(is_it).unwrap();
    for fact in [&mut pair.delay_s, &mut pair.farther_m, &mut pair.polarity] {
        *fact = Fact::sure(fact.value().unwrap(), 0.5);
    }
    let printed = spill::markdown(&stage);
    assert!(printed.contains("| -3.2 | ~2.9 | ~1.0 | ~same | good |"), "{printed}");
}

#[test]
fn nothing_measured_says_so() {
    let reading = evening::evening();
    assert_eq!(spill::table(Look::PIPE, &reading), "   No spill was measured in this session.\n");
    assert_eq!(spill::markdown(&reading), "No spill was measured in this session.\n");
}

#[test]
fn names_from_outside_do_no_harm() {
    let mut reading = evening::stage();
    for channel in &mut reading.channels {
        channel.name = format!("\u{1b}[31m|<b>{}", "long ".repeat(30));
    }
    let printed = spill::table(Look::PIPE, &reading);
    for line in printed.lines() {
        assert!(text::width(line) <= 80, "{} columns: {line}", text::width(line));
        assert!(!line.chars().any(char::is_control), "{line:?}");
    }
    assert!(!spill::markdown(&reading).contains("<b>"), "no markup");
}

#[test]
fn a_review_shows_the_table_on_request_only() {
    let page = |reading: &Reading, spill: bool| {
        let advice = coach::coach(reading, &Aims::default(), &Options::default());
        let page = Page { reading, advice: &advice, files: &[], extent: Extent::Chosen, spill };
        (table::review(Look::PIPE, &page), markdown::review(&page))
    };
    let (with, without) = (page(&evening::stage(), true), page(&evening::stage(), false));
    assert!(with.0.contains(spill::TITLE) && with.1.contains(spill::TITLE), "asked for");
    assert!(
        !without.0.contains(spill::TITLE) && !without.1.contains(spill::TITLE),
        "not asked for"
    );
    assert!(!with.0.contains('\u{1b}'), "no control codes in a pipe");
}
