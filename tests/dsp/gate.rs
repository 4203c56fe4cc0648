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
    // The mean of what passes -70 LUFS is a hair below -23, so the relative gate lies a hair below -33.
    let found = integrated_lufs(&blocks(&[(1_000, -23.0), (1, -32.9), (1, -33.1), (50, -80.0)]));
    let mean = (1_000.0 * loudness_power(-23.0) + loudness_power(-32.9)) / 1_001.0;
    assert_near(found.expect("a value"), loudness_lufs(mean), TOLERANCE, "gated");
}

#[test]
fn the_range_takes_the_10th_and_95th_percentile_of_what_passes() {
    // All above -70 have a mean of -24.3, so the gate lies at -44.3: what is at -45 does not count, at -44 it does.
    let found = range_lu(&blocks(&[(50, -30.0), (50, -20.0), (50, -75.0), (50, -45.0)]));
    assert_near(found.expect("a value"), 10.0, TOLERANCE, "gated");
    let found = range_lu(&blocks(&[(50, -30.0), (50, -20.0), (50, -75.0), (50, -44.0)]));
    assert_near(found.expect("a value"), 24.0, TOLERANCE, "not gated");
}

#[test]
fn nothing_above_the_absolute_gate_has_no_loudness() {
    assert_eq!(integrated_lufs(&blocks(&[(10, -70.1)])), None, "no value is no value");
    assert_eq!(range_lu(&[]), None, "no value is no value");
}
