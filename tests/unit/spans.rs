//! Sets of stretches of time.

use deskside::unit::Span;
use deskside::unit::spans::{both, either, longest, passage, shared_s, total_s, widened, without};

use crate::support::signals::Rng;

fn spans(pairs: &[[f64; 2]]) -> Vec<Span> {
    pairs.iter().map(|pair| Span::new(pair[0], pair[1])).collect()
}

#[test]
fn what_two_sets_share_and_what_they_do_not() {
    let one = spans(&[[0.0, 10.0], [20.0, 30.0]]);
    let other = spans(&[[5.0, 22.0], [24.0, 25.0], [40.0, 50.0]]);
    assert_eq!(both(&one, &other), spans(&[[5.0, 10.0], [20.0, 22.0], [24.0, 25.0]]));
    assert_eq!(without(&one, &other), spans(&[[0.0, 5.0], [22.0, 24.0], [25.0, 30.0]]));
    assert_eq!(either(&one, &other), spans(&[[0.0, 30.0], [40.0, 50.0]]));
    assert!((shared_s(&one, Span::new(8.0, 21.0)) - 3.0).abs() < 1e-12);
    assert_eq!(
        widened(&one, 5.0),
        spans(&[[0.0, 35.0]]),
        "none begins before 0, and what meets is one"
    );
    assert_eq!(longest(&other, 2), spans(&[[5.0, 22.0], [40.0, 50.0]]), "in order of time");
}

#[test]
fn a_passage_is_the_first_that_lasts_with_its_short_rests() {
    let hits =
        spans(&[[3.0, 3.1], [6.0, 6.2], [8.0, 8.2], [20.0, 21.0], [22.5, 26.0], [40.0, 80.0]]);
    assert_eq!(passage(&hits), Some(Span::new(20.0, 26.0)), "a rest of 1.5 s belongs to it");
    assert_eq!(passage(&hits[5..]), Some(Span::new(40.0, 60.0)), "20 s are enough");
    assert_eq!(passage(&hits[..3]), Some(Span::new(6.0, 8.2)), "the longest of short ones");
    assert_eq!(passage(&[]), None, "nothing sounds");
}

#[test]
fn sets_of_chance_add_up() {
    let mut rng = Rng::new(7);
    let mut chance = || {
        let mut at_s = 0.0;
        let mut spans = Vec::new();
        for _ in 0..40 {
            let start_s = at_s + 3.0 * rng.even();
            at_s = start_s + 0.01 + 3.0 * rng.even();
            spans.push(Span::new(start_s, at_s));
        }
        spans
    };
    for _ in 0..200 {
        let (one, other) = (chance(), chance());
        let shared_of_both_s = total_s(&both(&one, &other));
        let near = |a: f64, b: f64| (a - b).abs() < 1e-9;
        assert!(near(shared_of_both_s + total_s(&without(&one, &other)), total_s(&one)));
        assert!(near(
            total_s(&either(&one, &other)) + shared_of_both_s,
            total_s(&one) + total_s(&other)
        ));
        let by_span: f64 = other.iter().map(|span| shared_s(&one, *span)).sum();
        assert!(near(by_span, shared_of_both_s));
    }
}
