//! Writes tables of accuracy into their document.

use std::fs;

/// The document.
const DOCUMENT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/docs/accuracy.md");

/// Puts tables between the two marks that are theirs; what stands around them stays.
///
/// # Panics
///
/// If the document can't be read or written, or has no such marks.
pub(crate) fn put((begin, end): (&str, &str), tables: &str) {
    let document = fs::read_to_string(DOCUMENT).expect("the document can be read");
    let (before, rest) = document.split_once(begin).expect("the mark before the tables");
    let (_, after) = rest.split_once(end).expect("the mark behind the tables");
    let written = format!("{before}{begin}\n{tables}\n{end}{after}");
    fs::write(DOCUMENT, written).expect("the document can be written");
}
