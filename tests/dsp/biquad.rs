//! Tests of `dsp::biquad`.

use deskside::dsp::biquad::{Biquad, Filter, band_pass, gain_db, high_pass, low_pass};

use crate::support::feeding::assert_near;
use crate::support::signals::sine;

/// Closed forms in double precision.
const TOLERANCE_DB: f64 = 1e-6;

/// Half power.
const CORNER_DB: f64 = -3.010_299_957;

/// The frequency that the bilinear transform maps to: tan(pi f / rate).
fn warped(frequency_hz: f64) -> f64 {
    (std::f64::consts::PI * frequency_hz / 48_000.0).tan()
}

#[test]
fn low_and_high_pass_follow_butterworth() {
    // |H|^2 = 1 / (1 + W^2n), W the warped frequency over the warped corner (Oppenheim & Schafer, chapter 7).
    for (order, power) in (1..=6).zip(1..) {
        for frequency_hz in [200.0, 900.0, 1_000.0, 5_000.0, 15_000.0] {
            let ratio = (warped(frequency_hz) / warped(1_000.0)).powi(2 * power);
            let low = gain_db(&low_pass(48_000.0, 1_000.0, order), 48_000.0, frequency_hz);
            let high = gain_db(&high_pass(48_000.0, 1_000.0, order), 48_000.0, frequency_hz);
            assert_near(low, -10.0 * (1.0 + ratio).log10(), TOLERANCE_DB, "low-pass");
            assert_near(high, -10.0 * (1.0 + 1.0 / ratio).log10(), TOLERANCE_DB, "high-pass");
        }
    }
}

#[test]
fn band_pass_is_3_db_down_at_its_edges_and_follows_butterworth() {
    for (n_sections, power) in (1..=5).zip(1..) {
        let sections = band_pass(48_000.0, 800.0, 1_250.0, n_sections);
        for edge_hz in [800.0, 1_250.0] {
            assert_near(gain_db(&sections, 48_000.0, edge_hz), CORNER_DB, TOLERANCE_DB, "edge");
        }
        for frequency_hz in [300.0, 1_000.0, 1_100.0, 4_000.0] {
            let (low, high, here) = (warped(800.0), warped(1_250.0), warped(frequency_hz));
            let distance = (here * here - low * high) / ((high - low) * here);
            let expected = -10.0 * (1.0 + distance.powi(2 * power)).log10();
            let found = gain_db(&sections, 48_000.0, frequency_hz);
            assert_near(found, expected, TOLERANCE_DB, "band-pass");
        }
    }
}

#[test]
fn shelves_and_peaks_reach_their_gains() {
    let high = [Biquad::high_shelf(48_000.0, 1_000.0, 6.0)];
    let low = [Biquad::low_shelf(48_000.0, 1_000.0, -9.0)];
    let peak = [Biquad::peak(48_000.0, 1_000.0, 2.0, 4.0)];
    let gains = |sections: &[Biquad]| {
        [1.0, 1_000.0, 23_999.0].map(|frequency_hz| gain_db(sections, 48_000.0, frequency_hz))
    };
    for (found, expected) in [
        (gains(&high), [0.0, 3.0, 6.0]),
        (gains(&low), [-9.0, -4.5, 0.0]),
        (gains(&peak), [0.0, 4.0, 0.0]),
    ] {
        for (found, expected) in found.into_iter().zip(expected) {
            assert_near(found, expected, 1e-4, "gain at the ends and the corner");
        }
    }
}

#[test]
fn a_filtered_sine_has_the_gain_of_the_response() {
    let sections = high_pass(48_000.0, 500.0, 3);
    let expected_db = gain_db(&sections, 48_000.0, 300.0);
    let mut signal = sine(48_000, 300.0, 0.5, 0.0, 48_000);
    Filter::new(sections).process(&mut signal);
    let top = signal[24_000..].iter().fold(0.0f32, |top, sample| top.max(sample.abs()));
    // 160 samples a period: the highest of them is within 0.002 dB of the crest.
    assert_near(20.0 * (f64::from(top) / 0.5).log10(), expected_db, 0.002, "measured gain");
}

#[test]
#[should_panic(expected = "lies between 0 and half")]
fn rejects_a_corner_above_half_the_rate() {
    let _ = low_pass(48_000.0, 24_000.0, 2);
}
