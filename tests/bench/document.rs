//! Writes tables into the document that they stand in.

use std::fs;
use std::path::Path;

/// Puts tables into a document of `docs`, between the two marks that are theirs; what stands around them stays.
///
/// # Panics
///
/// If the document can't be read or written, or has no such marks.
pub(crate) fn put(name: &str, (begin, end): (&str, &str), tables: &str) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs").join(name);
    let document = fs::read_to_string(&path).expect("the document can be read");
    let (before, rest) = document.split_once(begin).expect("the mark before the tables");
    let (_, after) = rest.split_once(end).expect("the mark behind the tables");
    let written = format!("{before}{begin}\n{tables}\n{end}{after}");
    fs::write(&path, written).expect("the document can be written");
}
