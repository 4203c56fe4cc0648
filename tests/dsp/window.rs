//! Tests of `dsp::window`.

use deskside::dsp::window::{hann, kaiser, sinc};

use crate::support::feeding::assert_near;

/// Digits of the handbook values.
const TOLERANCE: f64 = 1e-9;

#[test]
fn the_kaiser_window_follows_the_bessel_function() {
    // I0(5) = 27.239871823604442, I0(3) = 4.880792585865024 (Abramowitz & Stegun, table 9.8). At 0.8, sqrt(1 - 0.64) = 0.6.
    assert_near(kaiser(0.8, 5.0), 4.880_792_585_865_024 / 27.239_871_823_604_442, TOLERANCE, "0.8");
    assert_near(kaiser(0.0, 5.0), 1.0, TOLERANCE, "middle");
    assert_near(kaiser(1.0, 5.0), 1.0 / 27.239_871_823_604_442, TOLERANCE, "end");
    assert_near(kaiser(1.1, 5.0), 0.0, TOLERANCE, "outside");
}

#[test]
fn sinc_is_1_at_0_and_0_at_whole_numbers() {
    assert_near(sinc(0.0), 1.0, TOLERANCE, "0");
    assert_near(sinc(0.5), std::f64::consts::FRAC_2_PI, TOLERANCE, "one half");
    assert_near(sinc(3.0), 0.0, TOLERANCE, "3");
}

#[test]
fn half_overlapped_raised_cosines_add_up_to_1() {
    assert_near(hann(0, 16), 0.0, TOLERANCE, "begin");
    assert_near(hann(8, 16), 1.0, TOLERANCE, "middle");
    for place in 0..8 {
        assert_near(hann(place, 16) + hann(place + 8, 16), 1.0, TOLERANCE, "sum of two");
    }
}
