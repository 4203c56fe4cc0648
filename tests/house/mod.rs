//! The rules of the house: what can be checked about the sources is checked here.
//!
//! Each check is a plain function from text to complaints. One test feeds it the repository, one feeds it a planted
//! fault, so that no check can pass by looking at nothing.

mod files;
mod keys;
mod map;
mod rules;
mod source;
mod supply;
mod twins;
mod words;

/// Fails with all complaints at once.
fn expect_none(complaints: &[String]) {
    assert!(complaints.is_empty(), "{} complaint(s):\n{}", complaints.len(), complaints.join("\n"));
}
