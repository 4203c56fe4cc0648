//! Names from outside: nothing in them may act on a terminal, a table or a page.

use deskside::report::text;
use proptest::prelude::*;

/// A name as bad as they come: a colour code, a bell, a reading-direction override, a line break, markup.
const HOSTILE: &str = "\u{1b}[31mLV\u{7} \u{202e}drums\n<b>|x|</b>";

#[test]
fn characters_that_act_on_the_screen_are_shown_and_not_obeyed() {
    let plain = text::plain(HOSTILE);
    assert_eq!(plain, "\u{fffd}[31mLV\u{fffd} \u{fffd}drums <b>|x|</b>");
}

#[test]
fn a_long_name_is_cut_to_columns_and_not_to_characters() {
    assert_eq!(text::fitted("Lead Vocal Handheld", 10), "Lead Voca…");
    assert_eq!(text::fitted("Gesang", 6), "Gesang");
    // East Asian wide characters take two columns each (Unicode Standard Annex 11).
    assert_eq!(text::fitted("主唱麦克风", 6), "主唱…");
    assert_eq!(text::width("主唱"), 4);
    assert_eq!(text::width("🎤"), 2);
}

#[test]
fn markdown_marks_in_a_name_are_escaped() {
    assert_eq!(
        text::markdown("a|b *c* <i>_d_</i> [x](y)"),
        "a\\|b \\*c\\* &lt;i&gt;\\_d\\_&lt;/i&gt; \\[x\\](y)"
    );
}

#[test]
fn a_paragraph_hangs_below_its_first_words() {
    assert_eq!(
        text::paragraph(" - ", "one two three four five six seven", 23),
        " - one two three four\n   five six seven\n"
    );
}

#[test]
fn items_are_listed_as_in_a_sentence() {
    let items = |n: usize| text::listed(&["a".to_owned(), "b".to_owned(), "c".to_owned()][..n]);
    assert_eq!([items(0), items(1), items(2), items(3)], ["", "a", "a and b", "a, b and c"]);
    assert_eq!(text::counted(1, "channel"), "1 channel");
    assert_eq!(text::counted(0, "channel"), "0 channels");
}

proptest! {
    #[test]
    fn any_name_fits_its_columns_and_holds_no_control_character(name in any::<String>(), max in 2usize..40) {
        let fitted = text::fitted(&name, max);
        prop_assert!(text::width(&fitted) <= max, "{} columns in {max}", text::width(&fitted));
        prop_assert!(!fitted.chars().any(char::is_control));
    }

    #[test]
    fn wrapping_keeps_every_word_in_order(words in prop::collection::vec("[a-z]{1,12}", 0..40), max in 20usize..80) {
        let lines = text::wrapped(&words.join(" "), max);
        prop_assert!(lines.iter().all(|line| text::width(line) <= max));
        prop_assert_eq!(lines.join(" "), words.join(" "));
    }
}
