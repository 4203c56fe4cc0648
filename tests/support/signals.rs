//! Signals whose values are known: sines, tones in segments, seeded noise, triangle, square, shaped noise.

#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "signals are made in double precision, places are small"
)]

use std::f64::consts::TAU;

use realfft::RealFftPlanner;
use realfft::num_complex::Complex64;

/// Amplitude of a level in dB re full scale.
pub(crate) fn amplitude(level_dbfs: f64) -> f64 {
    10f64.powf(level_dbfs / 20.0)
}

/// A sine of `amplitude` that starts at `phase_deg`.
pub(crate) fn sine(
    rate_hz: u32,
    frequency_hz: f64,
    amplitude: f64,
    phase_deg: f64,
    n_samples: usize,
) -> Vec<f32> {
    // A turning pointer: far cheaper than a sine a sample, and exact to 1e-12 over minutes.
    let turn = Complex64::cis(TAU * frequency_hz / f64::from(rate_hz));
    let mut pointer = Complex64::cis(phase_deg.to_radians());
    let step = |_| {
        let sample = amplitude * pointer.im;
        pointer *= turn;
        sample as f32
    };
    (0..n_samples).map(step).collect()
}

/// A tone of 1 kHz in segments of (seconds, peak level in dBFS), its phase running on; no level is silence.
pub(crate) fn segments(rate_hz: u32, segments: &[(f64, Option<f64>)]) -> Vec<f32> {
    let n_all: usize = segments.iter().map(|&(length_s, _)| samples(rate_hz, length_s)).sum();
    let mut tone = sine(rate_hz, 1_000.0, 1.0, 0.0, n_all);
    let mut rest = &mut tone[..];
    for &(length_s, level_dbfs) in segments {
        let (segment, later) = rest.split_at_mut(samples(rate_hz, length_s));
        let gain = level_dbfs.map_or(0.0, amplitude) as f32;
        segment.iter_mut().for_each(|sample| *sample *= gain);
        rest = later;
    }
    tone
}

/// How many samples a time takes.
pub(crate) fn samples(rate_hz: u32, length_s: f64) -> usize {
    (length_s * f64::from(rate_hz)).round() as usize
}

/// The same with linear fades at both ends.
pub(crate) fn faded(mut signal: Vec<f32>, n_fade: usize) -> Vec<f32> {
    let n_samples = signal.len();
    for at in 0..n_fade {
        let gain = at as f32 / n_fade as f32;
        signal[at] *= gain;
        signal[n_samples - 1 - at] *= gain;
    }
    signal
}

/// The same, louder or softer.
pub(crate) fn scaled(signal: &[f32], gain: f32) -> Vec<f32> {
    signal.iter().map(|sample| sample * gain).collect()
}

/// A triangle wave.
pub(crate) fn triangle(
    rate_hz: u32,
    frequency_hz: f64,
    amplitude: f64,
    n_samples: usize,
) -> Vec<f32> {
    let at = |n: usize| {
        let turns = (n as f64 * frequency_hz / f64::from(rate_hz)).fract();
        (amplitude * (4.0 * (turns - 0.5).abs() - 1.0)) as f32
    };
    (0..n_samples).map(at).collect()
}

/// A square wave.
pub(crate) fn square(
    rate_hz: u32,
    frequency_hz: f64,
    amplitude: f64,
    n_samples: usize,
) -> Vec<f32> {
    let at = |n: usize| {
        let turns = (n as f64 * frequency_hz / f64::from(rate_hz)).fract();
        (if turns < 0.5 { amplitude } else { -amplitude }) as f32
    };
    (0..n_samples).map(at).collect()
}

/// Random numbers (splitmix64; Steele, Lea & Flood 2014): the same for the same seed, everywhere.
pub(crate) struct Rng(u64);

impl Rng {
    /// A stream of numbers.
    pub(crate) fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// The next 64 random bits.
    pub(crate) fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut bits = self.0;
        bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        bits ^ (bits >> 31)
    }

    /// Evenly between 0 and 1.
    pub(crate) fn even(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Normally distributed with variance 1 (Box & Muller 1958).
    pub(crate) fn normal(&mut self) -> f64 {
        let (radius, turn) = (1.0 - self.even(), self.even());
        (-2.0 * radius.ln()).sqrt() * (TAU * turn).cos()
    }
}

/// White Gaussian noise of an RMS.
pub(crate) fn noise(seed: u64, rms: f64, n_samples: usize) -> Vec<f32> {
    let mut rng = Rng::new(seed);
    (0..n_samples).map(|_| (rms * rng.normal()) as f32).collect()
}

/// Gaussian noise whose power density follows `density` (over frequency in Hz), of an RMS.
pub(crate) fn shaped_noise(
    seed: u64,
    rate_hz: u32,
    n_samples: usize,
    rms: f64,
    density: impl Fn(f64) -> f64,
) -> Vec<f32> {
    let mut rng = Rng::new(seed);
    let inverse = RealFftPlanner::<f64>::new().plan_fft_inverse(n_samples);
    let mut spectrum = inverse.make_input_vec();
    let n_bins = spectrum.len();
    for (bin, value) in spectrum.iter_mut().enumerate().take(n_bins - 1).skip(1) {
        let frequency_hz = bin as f64 * f64::from(rate_hz) / n_samples as f64;
        *value = Complex64::new(rng.normal(), rng.normal()) * density(frequency_hz).sqrt();
    }
    let mut signal = inverse.make_output_vec();
    inverse.process(&mut spectrum, &mut signal).expect("the lengths fit");
    let power = signal.iter().map(|sample| sample * sample).sum::<f64>() / n_samples as f64;
    let gain = rms / power.sqrt();
    signal.into_iter().map(|sample| (gain * sample) as f32).collect()
}

/// Something like a programme: phrases of noise of changing level and tone, with pauses.
pub(crate) fn programme(seed: u64, rate_hz: u32, length_s: f64) -> Vec<f32> {
    let mut rng = Rng::new(seed);
    let mut signal: Vec<f32> = Vec::new();
    while signal.len() < samples(rate_hz, length_s) {
        let level = amplitude(-40.0 + 30.0 * rng.even());
        let smooth = 0.3 + 0.65 * rng.even();
        let mut last = 0.0;
        for _ in 0..samples(rate_hz, 0.2 + 3.0 * rng.even()) {
            last = smooth * last + (1.0 - smooth) * rng.normal();
            signal.push((level * last) as f32);
        }
        signal.extend(vec![0.0; samples(rate_hz, 0.8 * rng.even())]);
    }
    signal.truncate(samples(rate_hz, length_s));
    signal
}
