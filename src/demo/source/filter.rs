//! Second-order filters and the vocal tract's resonance: what gives a source its colour.
//!
//! Coefficients after R. Bristow-Johnson, "Cookbook formulae for audio EQ biquad filter coefficients" (published as a W3C note),
//! and D. Klatt, "Software for a cascade/parallel formant synthesizer", J. Acoust. Soc. Am. 67, 1980. Never unstable:
//! frequencies are kept below 0.45 of the rate.

use std::f64::consts::TAU;

use crate::demo::source::canvas::factor;

/// A second-order filter with its memory.
#[derive(Clone, Copy, Debug)]
pub(super) struct Filter {
    feed: [f64; 3],
    back: [f64; 2],
    memory: [f64; 2],
}

/// Samples between two looks whether a filter has come to rest.
const CHUNK: usize = 256;

/// A filter whose memory is below this rests: 200 dB under full scale, and far from numbers that slow the processor down.
const REST: f64 = 1e-10;

impl Filter {
    /// Lets through what lies below a frequency, with the given quality (0.71: no hump).
    pub(super) fn low_pass(rate_hz: f64, at_hz: f64, quality: f64) -> Self {
        let (cos, alpha) = Self::angle(rate_hz, at_hz, quality);
        let side = (1.0 - cos) / 2.0;
        Self::new([side, 2.0 * side, side], [1.0 + alpha, -2.0 * cos, 1.0 - alpha])
    }

    /// Lets through what lies above a frequency, with the given quality (0.71: no hump).
    pub(super) fn high_pass(rate_hz: f64, at_hz: f64, quality: f64) -> Self {
        let (cos, alpha) = Self::angle(rate_hz, at_hz, quality);
        let side = f64::midpoint(1.0, cos);
        Self::new([side, -2.0 * side, side], [1.0 + alpha, -2.0 * cos, 1.0 - alpha])
    }

    /// Lets through a band around a frequency, with factor 1 in its middle.
    pub(super) fn band_pass(rate_hz: f64, at_hz: f64, quality: f64) -> Self {
        let (cos, alpha) = Self::angle(rate_hz, at_hz, quality);
        Self::new([alpha, 0.0, -alpha], [1.0 + alpha, -2.0 * cos, 1.0 - alpha])
    }

    /// Raises or lowers a band around a frequency.
    pub(super) fn peak(rate_hz: f64, at_hz: f64, quality: f64, gain_db: f64) -> Self {
        let (cos, alpha) = Self::angle(rate_hz, at_hz, quality);
        let root = factor(gain_db / 2.0);
        Self::new(
            [1.0 + alpha * root, -2.0 * cos, 1.0 - alpha * root],
            [1.0 + alpha / root, -2.0 * cos, 1.0 - alpha / root],
        )
    }

    /// Raises or lowers what lies above a frequency, as steeply as goes without a hump.
    pub(super) fn high_shelf(rate_hz: f64, at_hz: f64, gain_db: f64) -> Self {
        let (cos, alpha) = Self::angle(rate_hz, at_hz, std::f64::consts::FRAC_1_SQRT_2);
        let root = factor(gain_db / 2.0);
        let lean = 2.0 * root.sqrt() * alpha;
        let (plus, minus) = (root + 1.0, root - 1.0);
        Self::new(
            [
                root * (plus + minus * cos + lean),
                -2.0 * root * (minus + plus * cos),
                root * (plus + minus * cos - lean),
            ],
            [plus - minus * cos + lean, 2.0 * (minus - plus * cos), plus - minus * cos - lean],
        )
    }

    /// The next sample.
    #[inline]
    pub(super) fn step(&mut self, input: f64) -> f64 {
        let output = self.feed[0] * input + self.memory[0];
        self.memory[0] = self.feed[1] * input - self.back[0] * output + self.memory[1];
        self.memory[1] = self.feed[2] * input - self.back[1] * output;
        output
    }

    /// Filters in place, and passes over silence quickly.
    pub(super) fn run(&mut self, samples: &mut [f64]) {
        for chunk in samples.chunks_mut(CHUNK) {
            if self.is_at_rest() && chunk.iter().all(|sample| sample.abs() < REST) {
                continue;
            }
            for sample in chunk {
                *sample = self.step(*sample);
            }
            self.rest();
        }
    }

    /// Forgets what is too faint to matter.
    pub(super) fn rest(&mut self) {
        if self.is_at_rest() {
            self.memory = [0.0, 0.0];
        }
    }

    /// Whether the memory is empty.
    pub(super) fn is_at_rest(&self) -> bool {
        self.memory.iter().all(|value| value.abs() < REST)
    }

    /// Takes over the colour of another filter and keeps the memory.
    pub(super) fn become_like(&mut self, other: &Self) {
        self.feed = other.feed;
        self.back = other.back;
    }

    fn angle(rate_hz: f64, at_hz: f64, quality: f64) -> (f64, f64) {
        let (sin, cos) = (TAU * at_hz.min(0.45 * rate_hz) / rate_hz).sin_cos();
        (cos, sin / (2.0 * quality))
    }

    fn new(feed: [f64; 3], back: [f64; 3]) -> Self {
        Self {
            feed: feed.map(|value| value / back[0]),
            back: [back[1] / back[0], back[2] / back[0]],
            memory: [0.0, 0.0],
        }
    }
}

/// One resonance of the vocal tract: factor 1 at 0 Hz, a peak at its frequency.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Resonance {
    input: f64,
    first: f64,
    second: f64,
    memory: [f64; 2],
}

impl Resonance {
    /// Moves the resonance to a frequency, with its width at -3 dB.
    pub(super) fn tune(&mut self, rate_hz: f64, at_hz: f64, width_hz: f64) {
        let radius = (-TAU / 2.0 * width_hz / rate_hz).exp();
        self.second = -radius * radius;
        self.first = 2.0 * radius * (TAU * at_hz.min(0.45 * rate_hz) / rate_hz).cos();
        self.input = 1.0 - self.first - self.second;
    }

    /// Filters in place.
    pub(super) fn run(&mut self, samples: &mut [f64]) {
        let [mut last, mut before] = self.memory;
        for sample in samples {
            let drive = self.input * *sample + self.second * before;
            before = last;
            last = drive + self.first * last;
            *sample = last;
        }
        self.memory = [last, before];
    }

    /// Whether the memory is empty.
    pub(super) fn is_at_rest(&self) -> bool {
        self.memory.iter().all(|value| value.abs() < REST)
    }

    /// Forgets what is too faint to matter.
    pub(super) fn rest(&mut self) {
        if self.is_at_rest() {
            self.memory = [0.0, 0.0];
        }
    }
}
