//! Sections in which the mix is read.

use deskside::relate::sections::{LONGEST_S, SHORTEST_S, parted, sections};
use deskside::unit::Span;

#[test]
fn they_cover_the_session_in_order_without_gaps() {
    for (borders_s, duration_s) in [
        (vec![], 30.4),
        (vec![13.2, 61.7, 300.0, 310.0, 1000.0], 1203.5),
        (vec![5.0, 7200.0], 7205.0),
    ] {
        let found = sections(&borders_s, duration_s);
        assert!((found[0].start_s).abs() < 1e-9);
        assert!((found[found.len() - 1].end_s - duration_s.ceil()).abs() < 1e-9);
        for pair in found.windows(2) {
            assert!((pair[0].end_s - pair[1].start_s).abs() < 1e-9, "{pair:?}");
        }
        for section in &found {
            assert!(section.length_s() <= LONGEST_S, "{section:?}");
            assert!(section.start_s.fract() == 0.0, "{section:?} begins on a second");
        }
    }
}

#[test]
fn a_song_begins_a_section_and_a_short_talk_does_not() {
    let found = sections(&[40.3, 130.0, 138.0, 220.0], 400.0);
    let starts: Vec<f64> = found.iter().map(|section| section.start_s).collect();
    assert_eq!(starts[..4], [0.0, 40.0, 130.0, 220.0], "8 s between songs are no section");
    assert!(found.iter().all(|section| section.length_s() >= SHORTEST_S));
}

#[test]
fn a_session_of_no_length_has_none() {
    assert!(sections(&[], 0.0).is_empty());
}

#[test]
fn a_change_parts_a_section_where_both_parts_are_long_enough() {
    let whole = Span::new(0.0, 90.0);
    let parts = parted(whole, &[30.4, 45.0, 12.0, 118.0]);
    let starts: Vec<f64> = parts.iter().map(|part| part.start_s).collect();
    assert_eq!(starts, [0.0, 30.0], "45 s is too near to 30, 12 to the begin, 118 is outside");
    assert_eq!(parted(Span::new(90.0, 130.0), &[118.0, 112.0]).len(), 1, "too near to the end");
    assert!((parts[0].end_s - parts[1].start_s).abs() < 1e-9, "no gap");
    assert_eq!(parted(whole, &[]), [whole]);
}
