//! The words of the trade in plain words.

use deskside::report::glossary;

#[test]
fn entries_stand_in_alphabetical_order_and_keep_to_the_form() {
    let words: Vec<String> =
        glossary::ENTRIES.iter().map(|entry| entry.word.to_lowercase()).collect();
    assert!(words.is_sorted(), "{words:?}");
    for entry in glossary::ENTRIES {
        assert!(!entry.forms.is_empty(), "{}: no form", entry.word);
        assert!(!entry.meaning.ends_with('.'), "{}: a clause has no full stop", entry.word);
        for form in entry.forms {
            assert_eq!(form.to_lowercase(), *form, "{}: forms are in lower case", entry.word);
        }
    }
}

#[test]
fn only_words_that_a_text_uses_are_explained() {
    let used =
        |text: &str| glossary::used_in(text).iter().map(|entry| entry.word).collect::<Vec<_>>();
    assert_eq!(used("Turn the fader down, then raise the Gain."), ["fader", "gain"]);
    assert_eq!(used("The trumpet rang brightly."), [] as [&str; 0]);
    assert_eq!(used("Its high-pass is off."), ["high-pass"]);
    assert_eq!(
        used("A padded again-and-again bushing."),
        [] as [&str; 0],
        "parts of words don't count"
    );
}
