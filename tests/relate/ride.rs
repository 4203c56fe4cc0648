//! Gains against an independent library and the defining sums.

use deskside::relate::ride::{equations, not_negative};
use realfft::num_complex::Complex64;

use crate::support::desk::{Strip, held, microphones, mix};
use crate::support::oracle::{even, solution};

/// Single precision, and turns that end.
const TOLERANCE: f64 = 1e-4;

#[test]
fn gains_that_are_not_negative_are_those_of_an_independent_library() {
    let n = 6;
    let (rows, main) = (even(23, 30 * n), even(24, 30));
    let mut products = vec![0.0f64; n * n];
    let mut with_main = vec![0.0f64; n];
    for (row, main) in rows.chunks_exact(n).zip(&main) {
        for a in 0..n {
            with_main[a] += row[a] * main;
            for b in 0..n {
                products[a * n + b] += row[a] * row[b];
            }
        }
    }
    let single = |values: &[f64]| values.iter().map(|&x| x as f32).collect::<Vec<f32>>();
    let found = not_negative(&single(&products), &single(&with_main), 200);
    let expected = solution("not negative");
    assert!(expected.iter().any(|gain| gain[0] == 0.0), "a gain that wants to be negative");
    for (found, expected) in found.iter().zip(expected) {
        assert!((f64::from(*found) - expected[0]).abs() < TOLERANCE, "{found}, not {expected:?}");
    }
}

/// Every side and bin with its weight.
fn weighted(weights: &[Vec<f64>; 2]) -> impl Iterator<Item = (usize, usize, f64)> {
    let sides = weights.iter().enumerate();
    sides.flat_map(|(side, bins)| bins.iter().enumerate().map(move |(bin, &w)| (side, bin, w)))
}

#[test]
fn equations_of_a_frame_are_the_sums_of_their_definition() {
    let raw = &microphones()[..3];
    let (held, patch) = held(raw, &mix(raw, &vec![Strip::plain(-3.0, 0.2); 3]));
    let n_bins = held.grid().bins().len();
    let colour = |side: usize, bin: usize, k: usize| {
        Complex64::new(0.3 * (k + 1) as f64, 0.1 * (side as f64 - bin as f64 / 200.0))
    };
    let colours = [0, 1]
        .map(|s| (0..n_bins).map(|bin| (0..3).map(|k| colour(s, bin, k)).collect()).collect());
    let weights = [0, 1].map(|side| (0..n_bins).map(|bin| (1 + bin % 3 + side) as f64).collect());
    let found = equations(&held, &patch, &colours, &weights);
    // A frame in the middle of a block, and the last one.
    for frame in [37, held.n_frames() - 1] {
        let value = |channel: usize, bin: usize| {
            let (cells, scale) = held.block(channel, frame / 16, bin);
            let cell = cells[frame % 16];
            Complex64::new(f64::from(cell[0]), f64::from(cell[1])) * f64::from(scale)
        };
        for a in 0..3 {
            for b in 0..3 {
                let in_bin = |(side, bin, weight): (usize, usize, f64)| {
                    let [x, y] = [a, b].map(|k| colour(side, bin, k) * value(k, bin));
                    weight * (x.conj() * y).re
                };
                let expected: f64 = weighted(&weights).map(in_bin).sum();
                let got = f64::from(found.products(frame)[3 * a + b]);
                assert!(
                    (got - expected).abs() < 1e-4 * expected.abs().max(1.0),
                    "{got} {expected}"
                );
            }
            let in_bin = |(side, bin, weight): (usize, usize, f64)| {
                let x = colour(side, bin, a) * value(a, bin);
                weight * (x.conj() * value(3 + side, bin)).re
            };
            let expected: f64 = weighted(&weights).map(in_bin).sum();
            let got = f64::from(found.with_main(frame)[a]);
            assert!((got - expected).abs() < 1e-4 * expected.abs().max(1.0), "{got} {expected}");
        }
    }
}
