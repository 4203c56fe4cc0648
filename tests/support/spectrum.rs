//! A plain Fourier transform and the band shares made with it: a witness that shares no code with the product.
//!
//! Takes samples at 48 kHz, gives decibels. Never fast.

use std::f64::consts::{PI, TAU};

/// Rate of all signals measured here, in Hz.
pub(crate) const RATE_HZ: u32 = 48_000;

/// Edges of the ten bands, in Hz: floor, bass, warmth, thick, body, nose, presence, edge, sizzle, air.
const EDGES_HZ: [f64; 11] =
    [22.4, 56.0, 112.0, 224.0, 355.0, 891.0, 1778.0, 3548.0, 5623.0, 8913.0, 17783.0];

/// Samples a frame: 171 ms, so that the lowest band is six lines wide.
const FRAME: usize = 8192;

/// What a signal is like while it sounds.
pub(crate) struct Profile {
    /// Share of each of the ten bands, in dB re their sum.
    pub(crate) shares_db: [f64; 10],
    /// Level of the active frames, in dBFS RMS.
    pub(crate) active_dbfs: f64,
    /// Largest sample over the active level, in dB.
    pub(crate) crest_db: f64,
}

/// Measures a signal over the frames within 20 dB of its loud level, the 95th percentile of all frames.
pub(crate) fn profile(samples: &[f32]) -> Profile {
    let frames: Vec<&[f32]> = samples.windows(FRAME).step_by(FRAME / 2).collect();
    let powers: Vec<f64> = frames.iter().map(|frame| mean_square(frame)).collect();
    let mut sorted = powers.clone();
    sorted.sort_by(f64::total_cmp);
    let loud = sorted[sorted.len() * 95 / 100];
    let mut shares = [0.0; 10];
    let (mut power, mut n_active) = (0.0, 0.0);
    for (frame, frame_power) in frames.iter().zip(powers) {
        if frame_power > loud / 100.0 {
            power += frame_power;
            n_active += 1.0;
            for (share, band) in shares.iter_mut().zip(bands(frame)) {
                *share += band;
            }
        }
    }
    let total: f64 = shares.iter().sum();
    let active_dbfs = 10.0 * (power / n_active).log10();
    let peak = samples.iter().fold(0.0_f32, |peak, sample| peak.max(sample.abs()));
    Profile {
        shares_db: shares.map(|share| 10.0 * (share / total).log10()),
        active_dbfs,
        crest_db: 20.0 * f64::from(peak).log10() - active_dbfs,
    }
}

/// Mean of the squares.
pub(crate) fn mean_square(samples: &[f32]) -> f64 {
    samples.iter().map(|&sample| f64::from(sample).powi(2)).sum::<f64>() / samples.len() as f64
}

/// Power of one frequency in a signal, through a raised-cosine window, summed term by term.
pub(crate) fn power_at(samples: &[f32], at_hz: f64) -> f64 {
    let count = samples.len() as f64;
    let (mut real, mut imaginary) = (0.0, 0.0);
    for (idx, &sample) in samples.iter().enumerate() {
        let place = idx as f64;
        let value = f64::from(sample) * (1.0 - (TAU * place / count).cos());
        let (sin, cos) = (TAU * at_hz * place / f64::from(RATE_HZ)).sin_cos();
        real += value * cos;
        imaginary += value * sin;
    }
    (real * real + imaginary * imaginary) / (count * count)
}

fn bands(frame: &[f32]) -> [f64; 10] {
    let mut spectrum: Vec<(f64, f64)> = frame
        .iter()
        .enumerate()
        .map(|(idx, &sample)| {
            let window = (PI * idx as f64 / FRAME as f64).sin().powi(2);
            (f64::from(sample) * window, 0.0)
        })
        .collect();
    transform(&mut spectrum);
    let mut powers = [0.0; 10];
    for (idx, (real, imaginary)) in spectrum[..FRAME / 2].iter().enumerate() {
        let at_hz = idx as f64 * f64::from(RATE_HZ) / FRAME as f64;
        if let Some(band) = EDGES_HZ.windows(2).position(|edge| at_hz >= edge[0] && at_hz < edge[1])
        {
            powers[band] += real * real + imaginary * imaginary;
        }
    }
    powers
}

/// The textbook transform by halves (Cooley and Tukey 1965); the length is a power of two.
fn transform(values: &mut [(f64, f64)]) {
    let length = values.len();
    let n_unused_bits = usize::BITS - length.ilog2();
    for idx in 0..length {
        let mirrored = idx.reverse_bits() >> n_unused_bits;
        if idx < mirrored {
            values.swap(idx, mirrored);
        }
    }
    let mut half = 1;
    while half < length {
        for offset in 0..half {
            let (sin, cos) = (-PI * offset as f64 / half as f64).sin_cos();
            for idx in (offset..length).step_by(2 * half) {
                let (even, odd) = (values[idx], values[idx + half]);
                let turned = (cos * odd.0 - sin * odd.1, cos * odd.1 + sin * odd.0);
                values[idx] = (even.0 + turned.0, even.1 + turned.1);
                values[idx + half] = (even.0 - turned.0, even.1 - turned.1);
            }
        }
        half *= 2;
    }
}
