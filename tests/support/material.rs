//! Material for dynamics: something like speech, drums, plucked and held notes, with levels as players have them.

#![expect(clippy::cast_possible_truncation, reason = "signals are made in double precision")]

use std::f64::consts::TAU;

use realfft::num_complex::Complex64;

use super::signals::Rng;

const RATE: f64 = 48_000.0;

/// How many kinds there are.
pub(crate) const N_KINDS: usize = 4;

/// Some seconds of a kind, peak -6 dBFS, with a floor of noise at -75 dBFS.
pub(crate) fn material(kind: usize, seed: u64, time_s: f64) -> Vec<f32> {
    let mut rng = Rng::new(7_919 * seed + kind as u64);
    let n = (time_s * RATE) as usize;
    let mut sound = vec![0.0; n];
    match kind {
        0 => speech(&mut sound, &mut rng),
        1 => drums(&mut sound, &mut rng),
        2 => notes(&mut sound, &mut rng, 0.4, 82.0),
        _ => notes(&mut sound, &mut rng, 3.0, 196.0),
    }
    let peak = sound.iter().fold(1e-9f64, |peak, x| peak.max(x.abs()));
    let floor = 10f64.powf(-75.0 / 20.0);
    sound.iter().map(|x| (0.5 * x / peak + floor * rng.normal()) as f32).collect()
}

/// Syllables of a buzz with two formants and some noise, in sentences with pauses; levels differ by some dB.
fn speech(sound: &mut [f64], rng: &mut Rng) {
    let mut at_s = 0.3;
    while at_s < sound.len() as f64 / RATE - 1.0 {
        let loud_db = 3.0 * rng.normal();
        for _ in 0..6 + rng.bits() % 8 {
            let length_s = 0.09 + 0.14 * rng.even();
            let gain = 10f64.powf((loud_db + 4.0 * rng.normal()) / 20.0);
            let pitch_hz = 110.0 + 60.0 * rng.even();
            let formants = [350.0 + 500.0 * rng.even(), 1_000.0 + 1_300.0 * rng.even()];
            for partial in 1..40 {
                let hz = pitch_hz * f64::from(partial);
                let size: f64 =
                    formants.iter().map(|f| 1.0 / (1.0 + ((hz - f) / 120.0).powi(2))).sum();
                tone(sound, at_s, length_s, hz, gain * (size + 0.02), (0.02, 0.05), 0.3);
            }
            hiss(sound, at_s - 0.04, 0.05, 0.15 * gain, rng);
            at_s += length_s + 0.02 + 0.05 * rng.even();
        }
        at_s += 0.4 + 1.2 * rng.even();
    }
}

/// Strokes of two drums whose strength differs.
fn drums(sound: &mut [f64], rng: &mut Rng) {
    let beat_s = 0.35 + 0.25 * rng.even();
    let mut at_s = 0.4;
    while at_s < sound.len() as f64 / RATE - 2.0 {
        let gain = 10f64.powf((-3.0 + 3.0 * rng.normal()) / 20.0);
        if rng.even() < 0.85 {
            tone(sound, at_s, 0.5, 180.0, gain, (0.001, 0.05), 0.09);
            tone(sound, at_s, 0.5, 288.0, 0.5 * gain, (0.001, 0.05), 0.06);
            hiss(sound, at_s, 0.25, gain, rng);
        }
        at_s += if rng.bits().is_multiple_of(5) { 5.0 * beat_s } else { beat_s };
    }
}

/// Notes of falling partials that ring for a time constant, in phrases.
fn notes(sound: &mut [f64], rng: &mut Rng, ring_s: f64, lowest_hz: f64) {
    let mut at_s = 0.3;
    while at_s < sound.len() as f64 / RATE - 2.5 {
        for _ in 0..4 + rng.bits() % 6 {
            let length_s = [0.2, 0.4, 0.8][(rng.bits() % 3) as usize];
            let hz = lowest_hz * 2f64.powf((rng.bits() % 20) as f64 / 12.0);
            let gain = 10f64.powf(4.0 * rng.normal() / 20.0);
            for partial in 1..16 {
                let size = gain / f64::from(partial).powf(1.2);
                let ring = ring_s / (1.0 + 0.15 * f64::from(partial));
                tone(
                    sound,
                    at_s,
                    0.9 * length_s,
                    hz * f64::from(partial),
                    size,
                    (0.006, 0.03),
                    ring,
                );
            }
            at_s += length_s;
        }
        at_s += 0.3 + 1.5 * rng.even();
    }
}

/// A sine that rises and ends within some time, and falls by a time constant.
fn tone(
    sound: &mut [f64],
    at_s: f64,
    length_s: f64,
    hz: f64,
    gain: f64,
    edges: (f64, f64),
    ring_s: f64,
) {
    let (start, n) = ((at_s * RATE) as usize, (length_s * RATE) as usize);
    let step = Complex64::from_polar((-1.0 / RATE / ring_s).exp(), TAU * hz / RATE);
    let mut pointer = Complex64::new(gain, 0.0);
    for (at, x) in sound.iter_mut().skip(start).take(n).enumerate() {
        let rise = (at as f64 / RATE / edges.0).min(1.0);
        let end = ((n - at) as f64 / RATE / edges.1).min(1.0);
        *x += rise * end * pointer.im;
        pointer *= step;
    }
}

/// Noise that falls by 60 dB within its length.
fn hiss(sound: &mut [f64], at_s: f64, length_s: f64, gain: f64, rng: &mut Rng) {
    let (start, n) = ((at_s.max(0.0) * RATE) as usize, (length_s * RATE) as usize);
    for (at, x) in sound.iter_mut().skip(start).take(n).enumerate() {
        *x += 0.3 * gain * rng.normal() * (-6.9 * at as f64 / n as f64).exp();
    }
}
