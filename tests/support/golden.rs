//! Texts compared whole with files of the repository.

use std::fs;
use std::path::Path;

/// Compares a text with a file, given by its path from the top of the repository. With `UPDATE=1` in the environment
/// the file is written instead; the difference is then for a person to look at.
///
/// # Panics
///
/// If the file differs or is not there.
pub(crate) fn compare(path: &str, found: &str) {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join(path);
    if std::env::var_os("UPDATE").is_some_and(|value| value == "1") {
        fs::create_dir_all(file.parent().unwrap()).unwrap();
        fs::write(&file, found).unwrap_or_else(|error| panic!("cannot write `{path}`: {error}"));
        return;
    }
    let expected = fs::read_to_string(&file).unwrap_or_default();
    if let Some(difference) = first_difference(&expected, found) {
        panic!(
            "`{path}` is out of date: run `UPDATE=1 cargo test` and look at the difference\n{difference}"
        );
    }
}

/// The first line in which two texts differ.
pub(crate) fn first_difference(expected: &str, found: &str) -> Option<String> {
    if expected == found {
        return None;
    }
    let (mut old, mut new) = (expected.lines(), found.lines());
    let mut number = 0;
    loop {
        number += 1;
        match (old.next(), new.next()) {
            (None, None) => return Some("the texts differ in line breaks only".to_owned()),
            (old, new) if old == new => {}
            (old, new) => {
                let side = |line: Option<&str>| line.map_or("(end)".to_owned(), str::to_owned);
                return Some(format!(
                    "line {number}\n  file:  {}\n  found: {}",
                    side(old),
                    side(new)
                ));
            }
        }
    }
}

#[test]
fn a_difference_is_seen() {
    assert_eq!(first_difference("a\nb\n", "a\nb\n"), None);
    assert!(first_difference("a\nb\n", "a\nc\n").unwrap().starts_with("line 2"));
    assert!(first_difference("a\n", "a").is_some(), "a missing line break at the end");
    assert!(first_difference("", "a").unwrap().contains("(end)"));
}
