//! Colours of channels against an independent library, and against filters that are known.

use deskside::dsp::Square;
use deskside::relate::colour::{Products, apart, products, smooth};
use deskside::relate::spectrogram::BLOCK;
use realfft::num_complex::Complex64;

use crate::support::desk::{Strip, held, high_pass_db, microphones, mix};
use crate::support::oracle::{even, solution};

/// The table holds ten digits.
const TOLERANCE: f64 = 1e-8;

fn pairs(seed: u64, count: usize) -> Vec<Complex64> {
    even(seed, 2 * count).chunks_exact(2).map(|two| Complex64::new(two[0], two[1])).collect()
}

#[test]
fn factors_of_a_bin_are_those_of_an_independent_library() {
    let n = 4;
    let (channels, main) = (pairs(21, 40 * n), pairs(22, 40));
    let mut square = Square::zero(n);
    let mut with_main = vec![Complex64::default(); n];
    for (frame, main) in channels.chunks_exact(n).zip(&main) {
        for a in 0..n {
            with_main[a] += frame[a].conj() * main;
            for b in 0..n {
                *square.at_mut(a, b) += frame[a].conj() * frame[b];
            }
        }
    }
    let power: f64 = main.iter().map(|x| x.norm_sqr()).sum();
    let one = Products {
        channels: square,
        with_main: [with_main.clone(), with_main],
        main: [power; 2],
        weight: 40.0,
    };
    let found = one.alone(0).expect("random channels are told apart");
    for (found, [re, im]) in found.iter().zip(solution("least squares")) {
        assert!((found - Complex64::new(re, im)).norm() < TOLERANCE, "{found}, not {re} {im}");
    }
    let left: f64 = channels
        .chunks_exact(n)
        .zip(&main)
        .map(|(x, y)| (y - x.iter().zip(&found).map(|(x, e)| x * e).sum::<Complex64>()).norm_sqr())
        .sum();
    assert!((one.left_over(0, &found) - left).abs() < TOLERANCE, "what is left, frame by frame");
}

#[test]
fn straight_lines_over_frequency_follow_a_high_pass() {
    let raw = &microphones()[..2];
    let mut strips = vec![Strip::plain(0.0, -1.0); 2];
    strips[1].high_pass_hz = Some(400.0);
    let (held, patch) = held(raw, &mix(raw, &strips));
    let blocks: Vec<usize> = (0..held.n_frames().div_ceil(BLOCK)).collect();
    let ones = vec![vec![1.0; held.n_frames()]; 2];
    let found = products(&held, &patch, &ones, &ones[0], &blocks);
    let alone = apart(&found);
    let weights = vec![1e6; found.len()];
    let colours = smooth(held.grid(), &found, 0, &weights, &alone[0]);
    for (place, &bin) in held.grid().bins().iter().enumerate() {
        let hz = bin as f64 * 48_000.0 / 4096.0;
        // Under 100 Hz a frame holds too few waves.
        if hz > 100.0 {
            let expected_db = high_pass_db(400.0, hz);
            let found_db = 20.0 * colours[place][1].norm().log10();
            assert!((found_db - expected_db).abs() < 0.3, "{hz} Hz: {found_db}, not {expected_db}");
            assert!((colours[place][0] - 1.0).norm() < 0.02, "{hz} Hz: {}", colours[place][0]);
        }
    }
}
