//! The rules, one a file: its data, what it picks, and its examples as tests.
//!
//! A new rule is a new file and one line in the register. A rule measures nothing and words no finding itself.

use super::rule::Rule;

/// The rules that are judged, in the order in which problems are fixed.
pub const RULES: &[&Rule] = &[];
