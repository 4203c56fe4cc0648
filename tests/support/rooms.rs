//! Halls with known decay times, impulses in them, and music that breaks off in them.

use std::f64::consts::{PI, TAU};

use deskside::dsp::biquad::{Filter, band_pass, low_pass};
use realfft::RealFftPlanner;
use realfft::num_complex::Complex64;

use super::signals::Rng;

/// Rate of all signals here, in Hz.
pub(crate) const RATE_HZ: u32 = 48_000;
const RATE: f64 = 48_000.0;

/// Octaves of a hall, 63 Hz to 8 kHz, nominal.
const OCTAVES_HZ: [f64; 8] = [63.0, 126.0, 252.0, 504.0, 1_008.0, 2_016.0, 4_032.0, 8_064.0];

/// Relative decay times of those octaves: longer below, shorter above.
pub(crate) const SHAPE: [f64; 8] = [1.3, 1.2, 1.1, 1.0, 1.0, 0.9, 0.75, 0.6];

/// An impulse response: direct sound, then noise that falls by `t60_s` in each octave; `late_db` is its energy re the direct sound.
pub(crate) fn response(rng: &mut Rng, t60_s: [f64; 8], late_db: f64, time_s: f64) -> Vec<f64> {
    let n = (time_s * RATE) as usize;
    let mut tail = vec![0.0; n];
    for (mid_hz, t60_s) in OCTAVES_HZ.into_iter().zip(t60_s) {
        let edge = 2f64.sqrt();
        let mut filter = Filter::new(band_pass(RATE, mid_hz / edge, mid_hz * edge, 4));
        for (at, x) in tail.iter_mut().enumerate() {
            let falls = (-6.907_755 * at as f64 / RATE / t60_s).exp();
            *x += filter.step(rng.normal()) * falls;
        }
    }
    let energy: f64 = tail.iter().map(|x| x * x).sum();
    let gain = 10f64.powf(late_db / 20.0) / energy.sqrt();
    // The first reflections come 4 ms after the direct sound.
    let mut response = vec![0.0; 192];
    response[0] = 1.0;
    response.extend(tail.iter().map(|x| gain * x));
    response
}

/// A clap: 6 ms of falling noise, mostly between 500 Hz and 5 kHz.
pub(crate) fn clap(rng: &mut Rng) -> Vec<f64> {
    let mut filter = Filter::new(band_pass(RATE, 500.0, 5_000.0, 1));
    let falls = |at: usize| (-(at as f64) / (0.0012 * RATE)).exp();
    (0..288).map(|at| filter.step(rng.normal() * falls(at))).collect()
}

/// A balloon: one wave of 8 ms that falls.
pub(crate) fn balloon() -> Vec<f64> {
    let wave = |at: usize| {
        let place = at as f64 / 192.0;
        0.5 * (1.0 + (PI * place).cos()) * (PI * place).cos()
    };
    (0..192).map(wave).collect()
}

/// A sweep at full level whose frequency grows by the same factor each second (A. Farina, AES 108th Convention, 2000).
pub(crate) fn sweep(from_hz: f64, to_hz: f64, length_s: f64) -> Vec<f64> {
    let growth = (to_hz / from_hz).ln();
    let turn = |at: usize| {
        let share = at as f64 / RATE / length_s;
        TAU * from_hz * length_s / growth * ((growth * share).exp() - 1.0)
    };
    (0..(length_s * RATE) as usize).map(|at| turn(at).sin()).collect()
}

/// What a microphone hears of `sound` in a hall of 0.35 to 2.2 s, 50 ms after the begin, with noise `snr_db` under its loudest 10 ms; and
/// the hall's own response, without noise.
pub(crate) fn in_a_hall(seed: u64, sound: &[f64], snr_db: f64) -> [Vec<f32>; 2] {
    let mut rng = Rng::new(seed);
    let t60_s = 0.35 * (2.2f64 / 0.35).powf(rng.even());
    let late_db = 8.0 * rng.even();
    let response = response(&mut rng, SHAPE.map(|shape| shape * t60_s), late_db, 3.2);
    let mut heard = convolved(sound, &response);
    let loudest = heard.chunks(480).map(|part| part.iter().map(|x| x * x).sum::<f64>() / 480.0);
    let rms = loudest.fold(0.0, f64::max).sqrt() * 10f64.powf(-snr_db / 20.0);
    let noise = pink(&mut rng, rms, heard.len());
    heard.iter_mut().zip(noise).for_each(|(x, noise)| *x += noise);
    [heard, response].map(|sound| {
        let single = sound.iter().map(|&x| x as f32);
        std::iter::repeat_n(0.0, 2_400).chain(single).collect()
    })
}

/// A band of 40 s that stops in a hall, and the decay times of the hall from 500 Hz to 4 kHz.
pub(crate) fn band_in_a_hall(seed: u64) -> (Vec<f32>, [f64; 4]) {
    let mut rng = Rng::new(seed);
    let t60_s = 0.35 * (2.0f64 / 0.35).powf(rng.even());
    let times = SHAPE.map(|shape| shape * t60_s);
    let late_db = 2.0 + 8.0 * rng.even();
    let response = response(&mut rng, times, late_db, 1.3 * times[0]);
    let sound = convolved(&band_with_stops(&mut rng, 40.0), &response);
    let peak = sound.iter().fold(0.0f64, |peak, x| peak.max(x.abs()));
    let floor_dbfs = -58.0 - 17.0 * rng.even();
    let floor = pink(&mut rng, 10f64.powf(floor_dbfs / 20.0), 40 * 48_000);
    let plane = floor.iter().zip(&sound).map(|(floor, x)| (floor + 0.5 * x / peak) as f32);
    (plane.collect(), [times[3], times[4], times[5], times[6]])
}

/// A signal in a hall.
pub(crate) fn convolved(signal: &[f64], response: &[f64]) -> Vec<f64> {
    let n = (signal.len() + response.len()).next_power_of_two();
    let mut planner = RealFftPlanner::<f64>::new();
    let (forward, inverse) = (planner.plan_fft_forward(n), planner.plan_fft_inverse(n));
    let spectrum = |signal: &[f64]| {
        let mut padded = signal.to_vec();
        padded.resize(n, 0.0);
        let mut bins = forward.make_output_vec();
        forward.process(&mut padded, &mut bins).expect("the lengths fit");
        bins
    };
    let (mut product, other) = (spectrum(signal), spectrum(response));
    product.iter_mut().zip(other).for_each(|(a, b)| *a *= b / n as f64);
    let mut sound = inverse.make_output_vec();
    inverse.process(&mut product, &mut sound).expect("the lengths fit");
    sound.truncate(signal.len() + response.len());
    sound
}

/// Pink-ish noise of an RMS: white noise through poles and zeros an octave and a half apart (3 dB an octave within 1 dB).
pub(crate) fn pink(rng: &mut Rng, rms: f64, n: usize) -> Vec<f64> {
    let mut states = [0.0; 5];
    let corners = [0.999, 0.995, 0.97, 0.85, 0.4];
    let mut noise: Vec<f64> = (0..n)
        .map(|_| {
            states.iter_mut().zip(corners).for_each(|(state, keep): (&mut f64, f64)| {
                *state = keep * *state + (1.0 - keep).sqrt() * rng.normal();
            });
            states.iter().sum()
        })
        .collect();
    let power = noise.iter().map(|x| x * x).sum::<f64>() / n as f64;
    noise.iter_mut().for_each(|x| *x *= rms / power.sqrt());
    noise
}

/// A band that plays for `time_s` and breaks off in the middle and 4 s before the end; drums alone come in between.
pub(crate) fn band_with_stops(rng: &mut Rng, time_s: f64) -> Vec<f64> {
    let n = (time_s * RATE) as usize;
    let (stop, last) = (0.45 * time_s, time_s - 4.0);
    let mut sound = vec![0.0; n];
    for lowest_hz in [55.0, 110.0, 220.0, 330.0] {
        let mut at_s = 0.1;
        while at_s < last {
            let note_s = [0.25, 0.5, 1.0][(rng.bits() % 3) as usize];
            let hz = lowest_hz * 2f64.powf((rng.bits() % 13) as f64 / 12.0);
            let until_s = if at_s < stop { stop } else { last };
            let is_pause = (stop..stop + 0.2 * time_s).contains(&at_s);
            if !is_pause {
                note(&mut sound, at_s, (at_s + 0.9 * note_s).min(until_s), hz, rng.even() - 0.5);
            }
            at_s += note_s;
        }
    }
    let mut at_s = 0.3;
    while at_s < last {
        if at_s < stop || at_s > stop + 0.06 * time_s {
            drum(&mut sound, at_s, rng);
        }
        at_s += [0.25, 0.5, 0.5, 0.75][(rng.bits() % 4) as usize];
    }
    sound
}

/// A note of many partials that ends within 20 ms.
fn note(sound: &mut [f64], start_s: f64, end_s: f64, hz: f64, bend: f64) {
    let (start, end) = ((start_s * RATE) as usize, (end_s * RATE) as usize);
    let n = end.saturating_sub(start);
    for partial in 1..=20 {
        let turn = TAU * hz * (1.0 + 1e-4 * bend) * f64::from(partial) / RATE;
        if turn > 2.0 {
            break;
        }
        let gain = 0.05 / f64::from(partial).powf(1.1);
        // A turning and shrinking pointer: far cheaper than a sine and a power a sample.
        let step = Complex64::from_polar((-1.0 / RATE / 1.5).exp(), turn);
        let mut pointer = Complex64::new(gain, 0.0);
        for (at, x) in sound[start..].iter_mut().take(n).enumerate() {
            let edge = (at.min(n - at) as f64 / 960.0).min(1.0);
            *x += edge * pointer.im;
            pointer *= step;
        }
    }
}

/// A stroke: noise that falls by 60 dB in 0.15 s.
fn drum(sound: &mut [f64], start_s: f64, rng: &mut Rng) {
    let start = (start_s * RATE) as usize;
    let corner_hz = 500.0 + 8_000.0 * rng.even();
    let mut filter = Filter::new(low_pass(RATE, corner_hz, 2));
    let level = 0.3 + 0.7 * rng.even();
    for (at, x) in sound[start..].iter_mut().take(9_600).enumerate() {
        *x += level * filter.step(rng.normal()) * (-6.9 * at as f64 / RATE / 0.15).exp();
    }
}
