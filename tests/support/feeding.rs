//! Feeding meters, in one block and in uneven ones.

#![expect(clippy::cast_possible_truncation, reason = "lengths are small")]

use std::fmt::Debug;

use deskside::dsp::Group;
use deskside::unit::Span;

use super::signals::Rng;

/// What a meter says of whole planes; asserts that it says the same however they are cut into blocks.
pub(crate) fn measure_whole<M, R: PartialEq + Debug>(
    rate_hz: u32,
    planes: &[&[f32]],
    new: impl Fn(u32, usize) -> M,
    push: impl Fn(&mut M, Group<'_>),
    finish: impl Fn(M) -> R,
) -> R {
    let mut meter = new(rate_hz, planes.len());
    push(&mut meter, Group::new(planes, rate_hz));
    let whole = finish(meter);

    let mut meter = new(rate_hz, planes.len());
    let (mut from, mut rng) = (0, Rng::new(5));
    while from < planes[0].len() {
        // Lengths from nothing over a sample to a second, so that every border inside a meter is crossed.
        let longest = [1, 7, 700, 48_000][(rng.bits() % 4) as usize];
        let n_samples = (rng.bits() as usize % (longest + 1)).min(planes[0].len() - from);
        let blocks: Vec<&[f32]> =
            planes.iter().map(|plane| &plane[from..from + n_samples]).collect();
        push(&mut meter, Group::new(&blocks, rate_hz));
        from += n_samples;
    }
    assert_eq!(finish(meter), whole, "uneven blocks give another result than one block");
    whole
}

/// The stretch of a whole recording.
pub(crate) fn all_of(rate_hz: u32, plane: &[f32]) -> [Span; 1] {
    [Span::new(0.0, plane.len() as f64 / f64::from(rate_hz))]
}

/// Asserts that a value is near another.
pub(crate) fn assert_near(found: f64, expected: f64, tolerance: f64, what: &str) {
    assert!(
        (found - expected).abs() <= tolerance,
        "{what}: found {found}, expected {expected} within {tolerance}"
    );
}
