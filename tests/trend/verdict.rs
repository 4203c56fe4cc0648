//! The words: too few sessions, chance, and a change in either direction.

use deskside::trend::verdict::Verdict;

fn check(n_sessions: usize, s: i64, p: f64, words: &str) {
    assert_eq!(Verdict::of(n_sessions, s, p).words(), words, "{n_sessions} sessions, S {s}, p {p}");
}

#[test]
fn below_four_sessions_it_is_too_early() {
    check(0, 0, 1.0, "too early to say");
    check(3, -3, 0.001, "too early to say");
}

#[test]
fn with_four_or_five_sessions_no_trend_is_claimed() {
    check(4, -6, 0.001, "no clear change yet");
    check(5, 10, 0.0167, "no clear change yet");
}

#[test]
fn from_six_sessions_a_change_beyond_chance_is_named() {
    check(6, -15, 0.0028, "steadier");
    check(6, 15, 0.0028, "more often than before");
    check(8, -16, 0.061, "no clear change yet");
    check(8, 16, 0.05, "no clear change yet");
}
