//! Agreement of two sides against signals whose correlation follows from how they were made.

use deskside::dsp::Group;
use deskside::relate::stereo::{Agreement, StereoMeter};
use deskside::unit::Unmeasured;

use crate::support::noise::Noise;

const RATE_HZ: u32 = 48_000;

/// Twenty seconds have 50 blocks of about 1500 independent values: the median is far nearer than this.
const TOLERANCE: f64 = 0.02;

fn agreement(left: &[f32], right: &[f32], cuts: usize) -> Result<Agreement, Unmeasured> {
    let mut meter = StereoMeter::new(RATE_HZ, 1);
    for (left, right) in left.chunks(cuts).zip(right.chunks(cuts)) {
        meter.push(Group::new(&[left, right], RATE_HZ));
    }
    meter.finish().remove(0)
}

fn noise(seed: u64, seconds: usize) -> Vec<f32> {
    Noise::new(seed).samples(seconds * RATE_HZ as usize)
}

#[test]
fn a_mono_source_agrees_and_an_inverted_side_disagrees() {
    let left = noise(1, 20);
    let inverted: Vec<f32> = left.iter().map(|sample| -0.5 * sample).collect();
    let same = agreement(&left, &left, 4096).unwrap();
    assert!((same.correlation - 1.0).abs() < 1e-6, "mono: {}", same.correlation);
    let flipped = agreement(&left, &inverted, 4096).unwrap();
    assert!((flipped.correlation + 1.0).abs() < 1e-6, "inverted: {}", flipped.correlation);
    assert!((flipped.low_correlation + 1.0).abs() < 1e-6, "low: {}", flipped.low_correlation);
    assert!((flipped.inverted_percent - 100.0).abs() < 1e-9, "{}", flipped.inverted_percent);
}

#[test]
fn a_shared_half_gives_a_correlation_of_one_half() {
    // l = a + b, n = a + c with equal powers: r = a^2 / (a^2 + b^2) = 1/2.
    let (a, b, c) = (noise(1, 20), noise(2, 20), noise(3, 20));
    let left: Vec<f32> = a.iter().zip(&b).map(|(a, b)| a + b).collect();
    let right: Vec<f32> = a.iter().zip(&c).map(|(a, c)| a + c).collect();
    let found = agreement(&left, &right, 1000).unwrap().correlation;
    assert!((found - 0.5).abs() < TOLERANCE, "expected 0.5, found {found}");
}

#[test]
fn the_cut_of_blocks_changes_nothing() {
    let (left, right) = (noise(4, 12), noise(5, 12));
    let whole = agreement(&left, &right, left.len()).unwrap();
    assert_eq!(whole, agreement(&left, &right, 777).unwrap(), "uneven blocks");
}

#[test]
fn pairs_that_are_measured_together_know_nothing_of_each_other() {
    let sides: Vec<Vec<f32>> = (0..8).map(|seed| noise(seed, 12)).collect();
    let lent: Vec<&[f32]> = sides.iter().map(Vec::as_slice).collect();
    let mut meter = StereoMeter::new(RATE_HZ, 4);
    meter.push(Group::new(&lent, RATE_HZ));
    for (pair, found) in sides.chunks(2).zip(meter.finish()) {
        assert_eq!(found, agreement(&pair[0], &pair[1], pair[0].len()), "alone and together");
    }
}

#[test]
fn silence_and_short_takes_have_no_value() {
    let silent = vec![0.0; 20 * RATE_HZ as usize];
    assert_eq!(agreement(&silent, &silent, 4096), Err(Unmeasured::Silent));
    let short = noise(1, 3);
    assert!(
        matches!(agreement(&short, &short, 4096), Err(Unmeasured::TooShort { .. })),
        "three seconds are too short"
    );
}
