//! Signals with known truth: tones, noise by seed, files of few bits.

use std::f64::consts::PI;

use deskside::dsp::Group;

/// Sample rate of most tests.
pub(crate) const RATE_HZ: u32 = 48_000;

/// Samples in a time at 48 kHz.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "tests are short")]
pub(crate) fn samples(time_s: f64) -> usize {
    (time_s * f64::from(RATE_HZ)).round() as usize
}

/// A sine of an amplitude.
pub(crate) fn sine(frequency_hz: f64, amplitude: f64, time_s: f64) -> Vec<f64> {
    tone(frequency_hz, amplitude, 0.0, samples(time_s), f64::from(RATE_HZ))
}

/// A sine with its phase in radians, at any rate.
#[expect(clippy::cast_precision_loss, reason = "tests are short")]
pub(crate) fn tone(
    hz: f64,
    amplitude: f64,
    phase: f64,
    n_samples: usize,
    rate_hz: f64,
) -> Vec<f64> {
    (0..n_samples).map(|n| amplitude * (2.0 * PI * hz * n as f64 / rate_hz + phase).sin()).collect()
}

/// A generator of pseudo-random numbers (xorshift64*, Vigna 2016).
#[derive(Clone, Debug)]
pub(crate) struct Dice(u64);

impl Dice {
    /// A generator from a seed.
    pub(crate) fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1)
    }

    /// Even in 0 to 1.
    #[expect(clippy::cast_precision_loss, reason = "53 bits fit")]
    pub(crate) fn even(&mut self) -> f64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        (self.0.wrapping_mul(0x2545_f491_4f6c_dd1d) >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Normal with deviation 1 (Box and Muller).
    pub(crate) fn normal(&mut self) -> f64 {
        (-2.0 * (1.0 - self.even()).ln()).sqrt() * (2.0 * PI * self.even()).cos()
    }

    /// White noise of an RMS.
    pub(crate) fn noise(&mut self, rms: f64, n_samples: usize) -> Vec<f64> {
        (0..n_samples).map(|_| rms * self.normal()).collect()
    }

    /// Noise with a low-pass of first order, of an RMS: darker, as sound in rooms is.
    pub(crate) fn dark_noise(&mut self, corner_hz: f64, rms: f64, n_samples: usize) -> Vec<f64> {
        let keep = (-2.0 * PI * corner_hz / f64::from(RATE_HZ)).exp();
        let mut last = 0.0;
        let scale = rms * ((1.0 + keep) / (1.0 - keep)).sqrt();
        let mut next = || {
            last = keep * last + (1.0 - keep) * self.normal();
            scale * last
        };
        (0..n_samples).map(|_| next()).collect()
    }
}

/// Amplitude of a level.
pub(crate) fn amplitude(level_db: f64) -> f64 {
    10f64.powf(level_db / 20.0)
}

/// The sum of two signals; the longer one goes on alone.
pub(crate) fn mix(a: &[f64], b: &[f64]) -> Vec<f64> {
    let at = |x: &[f64], n: usize| x.get(n).copied().unwrap_or(0.0);
    (0..a.len().max(b.len())).map(|n| at(a, n) + at(b, n)).collect()
}

/// As a converter of a number of bits stores it: rounded to steps and cut at full scale.
#[expect(clippy::cast_possible_truncation, reason = "samples are f32")]
pub(crate) fn stored(x: &[f64], bits: i32) -> Vec<f32> {
    let steps = 2f64.powi(bits - 1);
    let store = |x: &f64| ((x * steps).round().clamp(-steps, steps - 1.0) / steps) as f32;
    x.iter().map(store).collect()
}

/// As a floating-point file stores it.
#[expect(clippy::cast_possible_truncation, reason = "samples are f32")]
pub(crate) fn float(x: &[f64]) -> Vec<f32> {
    x.iter().map(|&x| x as f32).collect()
}

/// Feeds planes to a meter in blocks that take their lengths from `lengths` in turn.
pub(crate) fn in_blocks(
    planes: &[Vec<f32>],
    rate_hz: u32,
    lengths: &[usize],
    mut push: impl FnMut(Group<'_>),
) {
    let (mut from, mut turn) = (0, 0);
    while from < planes[0].len() {
        let to = (from + lengths[turn % lengths.len()]).min(planes[0].len());
        let block: Vec<&[f32]> = planes.iter().map(|plane| &plane[from..to]).collect();
        push(Group::new(&block, rate_hz));
        (from, turn) = (to, turn + 1);
    }
}

/// Blocks of lengths that fit no frame.
pub(crate) const UNEVEN: [usize; 6] = [1, 977, 4096, 13, 20_011, 300];
