//! Chosen minutes of sessions whose course is known.

use deskside::relate::material::material;
use deskside::unit::Span;

fn total_s(spans: &[Span]) -> f64 {
    spans.iter().map(|span| span.length_s()).sum()
}

#[test]
fn a_short_session_is_taken_whole_and_a_very_short_one_not_at_all() {
    let active = [Span::new(0.0, 90.0)];
    assert_eq!(material(&[&active], 90.0, 150.0), [Span::new(0.0, 90.0)]);
    assert!(material(&[&active], 9.0, 150.0).is_empty());
}

#[test]
fn a_source_that_sounds_once_in_an_hour_is_heard() {
    let band = [Span::new(0.0, 3600.0)];
    let talk = [Span::new(2011.0, 2019.0)];
    let chosen = material(&[&band, &talk], 3600.0, 150.0);
    assert!(chosen.iter().any(|span| span.start_s <= 2011.0 && span.end_s >= 2019.0), "{chosen:?}");
    assert!(total_s(&chosen) <= 150.0);
}

#[test]
fn stretches_with_changes_come_before_steady_ones() {
    let steady = [Span::new(0.0, 600.0)];
    let lively: Vec<Span> = (0..20)
        .map(|turn| Span::new(300.0 + 2.0 * f64::from(turn), 301.0 + 2.0 * f64::from(turn)))
        .collect();
    let chosen = material(&[&steady, &lively], 600.0, 40.0);
    assert_eq!(chosen, [Span::new(300.0, 340.0)]);
}
