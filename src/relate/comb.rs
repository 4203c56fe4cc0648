//! # Comb of two open microphones
//!
//! What the sum of two microphones does to a source that both hear, one later than the other.
//!
//! - **Formula:** the sum responds by `|1 + p a exp(-j 2 pi f tau)|`, where `tau` is the delay, `p` the polarity and `a` the ratio
//!   of the softer to the louder amplitude. Dips at `(2n - 1) / (2 tau)` for equal polarity, `n / tau` for opposite, up to 16 kHz;
//!   ripple `20 log10((1 + a) / (1 - a))`, less where the delay is too short for a dip and a peak below 16 kHz
//! - **Unit:** Hz; dB
//! - **Range:** ripple 0 to 40 dB (more reads as this: equal levels cancel wholly)
//! - **Source:** the sum of two phasors (closed form); the 3:1 spacing is usually credited to L. Burroughs, Microphones: Design
//!   and Application, 1974 (from memory)
//! - **Window:** none: it follows from an arrival and a level
//! - **No value:** where the delay or the level has none
//! - **Misleads when:** both are not open at once or not summed at the gains they have here; in a reverberant place the dips fill up

use std::f64::consts::{PI, TAU};

use crate::dsp::air::speed_of_sound_m_s;

/// Highest frequency of a dip, in Hz.
const HIGHEST_HZ: f64 = 16_000.0;

/// Most dips that are told.
const MOST_DIPS: u32 = 5;

/// Largest ripple that is told, in dB.
const MOST_RIPPLE_DB: f64 = 40.0;

/// The sum of two microphones.
#[derive(Clone, Debug, PartialEq)]
pub struct Comb {
    /// The first dips, in rising order.
    pub notches_hz: Vec<f64>,
    /// Highest minus lowest response up to 16 kHz.
    pub ripple_db: f64,
}

/// The comb that a source gets if two microphones are open.
///
/// # Formula
///
/// See the head of this module. `delay_s`: arrival in the second minus arrival in the first; `level_db`: level of the source in
/// the second minus its level in the first, as both are summed; `polarity`: negative if one is inverted.
///
/// # Panics
///
/// If a number is not finite.
///
/// # Example
///
/// ```
/// let comb = deskside::relate::comb::comb(0.001, -6.0206, 1.0);
/// assert!((comb.notches_hz[0] - 500.0).abs() < 1e-9);
/// assert!((comb.ripple_db - 9.5424).abs() < 1e-3); // half the amplitude: 20 log10(1.5 / 0.5)
/// ```
pub fn comb(delay_s: f64, level_db: f64, polarity: f64) -> Comb {
    let is_known = delay_s.is_finite() && level_db.is_finite() && polarity.is_finite();
    assert!(is_known, "a comb follows from numbers, found {delay_s}, {level_db}, {polarity}");
    let delay_s = delay_s.abs();
    let ratio = 10f64.powf(-level_db.abs() / 20.0);
    let is_inverted = polarity < 0.0;
    let first = if is_inverted { 1.0 } else { 0.5 };
    let notches_hz = (0..MOST_DIPS)
        .map(|n| (first + f64::from(n)) / delay_s)
        .take_while(|&at_hz| at_hz <= HIGHEST_HZ)
        .collect();
    // The response runs steadily from 0 Hz to half a turn, so the ends of that stretch are its extremes.
    let start = if is_inverted { PI } else { 0.0 };
    let turned = (TAU * HIGHEST_HZ * delay_s).min(PI);
    let ends = [start, start + turned].map(|angle| response(ratio, angle));
    let (low, high) = (ends[0].min(ends[1]), ends[0].max(ends[1]));
    let most = 10f64.powf(MOST_RIPPLE_DB / 20.0);
    let ripple = if low * most > high {
        high / low
    } else if high > 0.0 {
        most
    } else {
        1.0
    };
    Comb { notches_hz, ripple_db: 20.0 * ripple.log10() }
}

/// Size of `1 + ratio exp(-j angle)`.
fn response(ratio: f64, angle: f64) -> f64 {
    (1.0 + ratio * (ratio + 2.0 * angle.cos())).max(0.0).sqrt()
}

/// How much farther a source is from the second microphone than from the first, in metres: delay times the speed of sound.
pub fn farther_m(delay_s: f64, temperature_c: f64) -> f64 {
    delay_s * speed_of_sound_m_s(temperature_c)
}

/// How many times as far as the first microphone the second would stand in the open air, from the level of the source in
/// the second minus that in the first: `10^(-level/20)`.
///
/// The 3:1 spacing is a ratio of 3, -9.54 dB. Equal sensitivity and gain are assumed, and neither walls nor patterns count.
pub fn equivalent_ratio(level_db: f64) -> f64 {
    10f64.powf(-level_db / 20.0)
}

/// How many times as far the second microphone stands as the first: `(near + farther) / near`, where `near_m` is the distance
/// of the source from the first. It has to be known from elsewhere: a delay tells differences only.
///
/// # Panics
///
/// If the first distance is not positive.
pub fn distance_ratio(near_m: f64, farther_m: f64) -> f64 {
    assert!(near_m > 0.0, "a distance is positive, found {near_m} m");
    (near_m + farther_m) / near_m
}
