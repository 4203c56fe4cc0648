//! Tests of `dsp::gate`.

use deskside::dsp::gate::{integrated_lufs, loudness_lufs, loudness_power, range_lu};

use crate::support::feeding::assert_near;

/// Arithmetic in double precision.
const TOLERANCE: f64 = 1e-9;

fn blocks(parts: &[(usize, f64)]) -> Vec<f64> {
    parts.iter().flat_map(|&(n, lufs)| vec![loudness_power(lufs); n]).collect()
}

#[test]
fn a_mean_square_of_1_is_minus_0_691_lufs() {
    // BS.1770-5 annex 1, formula 2.
    assert_near(loudness_lufs(1.0), -0.691, TOLERANCE, "loudness of power 1");
}

#[test]
fn blocks_below_either_gate_do_not_count() {
    // Mean of the survivors of -70: about -23; so -34 falls to the relative gate and -32 does not.
    let found = integrated_lufs(&blocks(&[(600, -23.0), (50, -34.0), (50, -80.0)]));
    assert_near(found.expect("a value"), -23.0, TOLERANCE, "gated");
    let with = integrated_lufs(&blocks(&[(600, -23.0), (600, -32.0)])).expect("a value");
    let mean = loudness_lufs(0.5 * (loudness_power(-23.0) + loudness_power(-32.0)));
    assert_near(with, mean, TOLERANCE, "nothing gated");
}

#[test]
fn the_range_takes_the_10th_and_95th_percentile_of_what_passes() {
    let found = range_lu(&blocks(&[(50, -30.0), (50, -20.0), (50, -75.0), (50, -45.0)]));
    assert_near(found.expect("a value"), 10.0, TOLERANCE, "range");
}

#[test]
fn nothing_above_the_absolute_gate_has_no_loudness() {
    assert_eq!(integrated_lufs(&blocks(&[(10, -70.1)])), None, "no value is no value");
    assert_eq!(range_lu(&[]), None, "no value is no value");
}
