//! The review as Markdown.

use deskside::coach::{self, Aims, Options};
use deskside::reading::Reading;
use deskside::report::markdown;
use deskside::report::table::{Extent, Page};

use crate::support::{evening, golden};

fn printed(reading: &Reading) -> String {
    let advice = coach::coach(reading, &Aims::default(), &Options::default());
    let extent = Extent::All;
    markdown::review(&Page { reading, advice: &advice, files: &[], extent, spill: false })
}

#[test]
fn the_review_is_well_formed_markdown() {
    let printed = printed(&evening::evening());
    golden::compare("corpus/report/all.md", &printed);
    assert!(printed.starts_with("# Tallow Street Arts Hall\n"));
}

#[test]
fn a_name_from_outside_never_becomes_markup() {
    let mut reading = evening::evening();
    for channel in &mut reading.channels {
        channel.name = "<script>x</script> [a](http://b) **c**".to_owned();
    }
    let printed = printed(&reading);
    for markup in ["<script>", "[a](", "**c**"] {
        assert!(!printed.contains(markup), "`{markup}`");
    }
}
