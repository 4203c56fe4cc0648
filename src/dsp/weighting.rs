//! Frequency weightings: K for loudness, A and C for sound level.
//!
//! Takes a rate, gives sections; and the exact curves of A and C. Sources: ITU-R BS.1770-5 annex 1, tables 1 and 2 (K);
//! IEC 61672-1:2013 annex E (A and C).

use std::f64::consts::TAU;

use super::biquad::{Biquad, gain_db};

/// The rate of the tabled K weighting, in Hz.
const TABLE_RATE_HZ: f64 = 48_000.0;

/// First stage of K at 48 kHz, a shelf (BS.1770-5 annex 1 table 1).
const K_SHELF: Biquad = Biquad {
    b0: 1.535_124_859_586_97,
    b1: -2.691_696_189_406_38,
    b2: 1.198_392_810_852_85,
    a1: -1.690_659_293_182_41,
    a2: 0.732_480_774_215_85,
};

/// Second stage of K at 48 kHz, a high-pass (BS.1770-5 annex 1 table 2).
const K_HIGH_PASS: Biquad =
    Biquad { b0: 1.0, b1: -2.0, b2: 1.0, a1: -1.990_047_454_833_98, a2: 0.990_072_250_366_21 };

/// Corners of A and C, in Hz (IEC 61672-1 annex E: f1 to f4).
const CORNERS_HZ: [f64; 4] = [20.598_997, 107.652_65, 737.862_23, 12_194.217];

/// Where A and C are 0 dB, in Hz.
const REFERENCE_HZ: f64 = 1_000.0;

/// Where a slow rate does not hold the corner of a low-pass its level is matched here, re the rate.
const HIGHEST_MATCH: f64 = 0.45;

/// K weighting at any rate: the shelf, then the high-pass.
///
/// At 48 kHz these are the tabled values. At other rates the tabled sections are taken back to analogue ones and mapped
/// anew, which keeps the response as annex 1 asks.
pub fn k(rate_hz: u32) -> [Biquad; 2] {
    if rate_hz == 48_000 {
        return [K_SHELF, K_HIGH_PASS];
    }
    [K_SHELF, K_HIGH_PASS].map(|section| {
        let Biquad { b0, b1, b2, a1, a2 } = section;
        let scale = 2.0 * TABLE_RATE_HZ;
        let to_analogue = |[now, one, two]: [f64; 3]| {
            [scale * scale * (now + one + two), 2.0 * scale * (now - two), now - one + two]
        };
        Biquad::bilinear(
            to_analogue([b0, b1, b2]),
            to_analogue([1.0, a1, a2]),
            2.0 * f64::from(rate_hz),
        )
    })
}

/// A weighting as sections, 0 dB at 1 kHz; class 1 of IEC 61672-1 at 44.1 kHz and above.
pub fn a(rate_hz: u32) -> [Biquad; 3] {
    let [f1, f2, f3, f4] = CORNERS_HZ;
    levelled([rising(rate_hz, f1, f1), rising(rate_hz, f2, f3), falling(rate_hz, f4)], rate_hz)
}

/// C weighting as sections, 0 dB at 1 kHz; class 1 of IEC 61672-1 at 44.1 kHz and above.
pub fn c(rate_hz: u32) -> [Biquad; 2] {
    let [f1, _, _, f4] = CORNERS_HZ;
    levelled([rising(rate_hz, f1, f1), falling(rate_hz, f4)], rate_hz)
}

/// Exact A weighting at a frequency, in dB.
pub fn a_db(frequency_hz: f64) -> f64 {
    let curve = |at_hz: f64| {
        let [f1, f2, f3, f4] = CORNERS_HZ.map(|corner_hz| (corner_hz / at_hz).powi(2));
        let poles = (1.0 + f1) * ((1.0 + f2) * (1.0 + f3)).sqrt() * (1.0 + 1.0 / f4);
        -20.0 * poles.log10()
    };
    curve(frequency_hz) - curve(REFERENCE_HZ)
}

/// Exact C weighting at a frequency, in dB.
pub fn c_db(frequency_hz: f64) -> f64 {
    let curve = |at_hz: f64| {
        let [f1, _, _, f4] = CORNERS_HZ.map(|corner_hz| (corner_hz / at_hz).powi(2));
        -20.0 * ((1.0 + f1) * (1.0 + 1.0 / f4)).log10()
    };
    curve(frequency_hz) - curve(REFERENCE_HZ)
}

/// `s^2 / ((s + w1) (s + w2))`.
fn rising(rate_hz: u32, first_hz: f64, second_hz: f64) -> Biquad {
    let (first, second) = (TAU * first_hz, TAU * second_hz);
    let denominator = [first * second, first + second, 1.0];
    Biquad::bilinear([0.0, 0.0, 1.0], denominator, 2.0 * f64::from(rate_hz))
}

/// `w^2 / (s + w)^2`: poles where the analogue ones fall, zeros so that the level is right at 0 Hz and at the corner.
///
/// A bilinear section would close towards half the rate: 1/f noise at 48 kHz would read 0.2 dB low. Source: matched sections after
/// Vicanek, "Matched second order digital filters" (2016; from memory), for two equal poles.
fn falling(rate_hz: u32, corner_hz: f64) -> Biquad {
    let rate_hz = f64::from(rate_hz);
    let pole = (-TAU * corner_hz / rate_hz).exp();
    let (a1, a2) = (-2.0 * pole, pole * pole);
    let at_hz = corner_hz.min(HIGHEST_MATCH * rate_hz);
    let wanted = (1.0 + (at_hz / corner_hz).powi(2)).powi(-2);
    let high = (0.5 * TAU * at_hz / rate_hz).sin().powi(2);
    let low = 1.0 - high;
    let still = (1.0 + a1 + a2).powi(2);
    let poles = still * low + (1.0 - a1 + a2).powi(2) * high - 16.0 * a2 * low * high;
    let fastest = ((wanted * poles - still * low) / high).max(0.0);
    let b0 = 0.5 * (still.sqrt() + fastest.sqrt());
    Biquad { b0, b1: still.sqrt() - b0, b2: 0.0, a1, a2 }
}

/// The sections with 0 dB at 1 kHz.
fn levelled<const S: usize>(mut sections: [Biquad; S], rate_hz: u32) -> [Biquad; S] {
    let gain = 10f64.powf(-gain_db(&sections, f64::from(rate_hz), REFERENCE_HZ) / 20.0);
    let first = &mut sections[0];
    (first.b0, first.b1, first.b2) = (gain * first.b0, gain * first.b1, gain * first.b2);
    sections
}
