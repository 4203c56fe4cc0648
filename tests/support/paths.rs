//! Ways of sound: delays of a fraction of a sample, gains, echoes. The truth that arrivals are held against.

use std::f64::consts::PI;

use super::signals::Rng;

/// Taps on either side of a fractional delay: within 1e-4 up to 0.4 of the rate.
const SIDE_TAPS: isize = 48;

/// Adds a signal to another, `delay_samples` later and times `gain`, by a sinc under a squared cosine: no transform is used.
pub(crate) fn add_delayed(sum: &mut [f32], source: &[f32], delay_samples: f64, gain: f64) {
    let whole = delay_samples.floor();
    let taps: Vec<f64> = (-SIDE_TAPS..=SIDE_TAPS)
        .map(|tap| {
            let place = tap as f64 - (delay_samples - whole);
            let window = (PI * place / (2 * SIDE_TAPS + 2) as f64).cos().powi(2);
            gain * window * if place.abs() < 1e-9 { 1.0 } else { (PI * place).sin() / (PI * place) }
        })
        .collect();
    let first = whole as isize - SIDE_TAPS;
    for (tap, weight) in (first..).zip(&taps) {
        let weight = *weight as f32;
        let (into, from) = if tap < 0 {
            let skipped = tap.unsigned_abs().min(source.len());
            (&mut sum[..], &source[skipped..])
        } else {
            let skipped = tap.unsigned_abs().min(sum.len());
            (&mut sum[skipped..], source)
        };
        into.iter_mut().zip(from).for_each(|(sum, sample)| *sum += weight * sample);
    }
}

/// The same signal, later by a number of samples and times `gain`.
pub(crate) fn delayed(source: &[f32], delay_samples: f64, gain: f64) -> Vec<f32> {
    let mut later = vec![0.0; source.len()];
    add_delayed(&mut later, source, delay_samples, gain);
    later
}

/// Direct sound and what a room adds to it: echoes from 2 ms to 40 ms after it that fall by 30 dB on the way.
pub(crate) fn add_in_a_room(
    sum: &mut [f32],
    source: &[f32],
    delay_samples: f64,
    gain: f64,
    rng: &mut Rng,
) {
    const N_ECHOES: usize = 12;
    add_delayed(sum, source, delay_samples, gain);
    for _ in 0..N_ECHOES {
        let later_samples = 96.0 + 1800.0 * rng.even();
        let level_db = -8.0 - 30.0 * later_samples / 1900.0;
        let sign = if rng.even() < 0.5 { -1.0 } else { 1.0 };
        let echo = sign * gain * 10f64.powf(level_db / 20.0);
        add_delayed(sum, source, delay_samples + later_samples, echo);
    }
}
