//! Second-order sections: their design, their response, and a plain filter of one channel.
//!
//! Takes corners in Hz, gives sections with `a0 = 1`. All designs map the analogue filter by the bilinear transform with its
//! corners kept in place. Never makes a filter with a corner at or above half the rate.
//!
//! Sources: Butterworth poles and the bilinear transform from Oppenheim & Schafer, Discrete-Time Signal Processing, chapter
//! 7; shelf and peak from R. Bristow-Johnson's equaliser formulae.

use std::f64::consts::{PI, SQRT_2, TAU};

use rustfft::num_complex::Complex64;

/// A section `(b0 + b1 z^-1 + b2 z^-2) / (1 + a1 z^-1 + a2 z^-2)`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Biquad {
    /// Weight of the sample.
    pub b0: f64,
    /// Weight of the sample before.
    pub b1: f64,
    /// Weight of the sample two before.
    pub b2: f64,
    /// Weight of the output before, with the opposite sign.
    pub a1: f64,
    /// Weight of the output two before, with the opposite sign.
    pub a2: f64,
}

impl Biquad {
    /// A peak or dip of `gain_db` at `mid_hz`; a larger `q` is narrower.
    ///
    /// # Panics
    ///
    /// If the frequency is not between 0 and half the rate.
    pub fn peak(rate_hz: f64, mid_hz: f64, q: f64, gain_db: f64) -> Self {
        let (cos, alpha) = angle(rate_hz, mid_hz, q);
        let boost = 10f64.powf(gain_db / 40.0);
        Self::scaled(
            [1.0 + alpha * boost, -2.0 * cos, 1.0 - alpha * boost],
            [1.0 + alpha / boost, -2.0 * cos, 1.0 - alpha / boost],
        )
    }

    /// A shelf that changes everything above `corner_hz` by `gain_db`; half of it at the corner.
    ///
    /// # Panics
    ///
    /// If the frequency is not between 0 and half the rate.
    pub fn high_shelf(rate_hz: f64, corner_hz: f64, gain_db: f64) -> Self {
        let (cos, alpha) = angle(rate_hz, corner_hz, 1.0 / SQRT_2);
        let boost = 10f64.powf(gain_db / 40.0);
        let slope = 2.0 * boost.sqrt() * alpha;
        let (up, down) = (boost + 1.0, boost - 1.0);
        Self::scaled(
            [
                boost * (up + down * cos + slope),
                -2.0 * boost * (down + up * cos),
                boost * (up + down * cos - slope),
            ],
            [up - down * cos + slope, 2.0 * (down - up * cos), up - down * cos - slope],
        )
    }

    /// A shelf that changes everything below `corner_hz` by `gain_db`; half of it at the corner.
    ///
    /// # Panics
    ///
    /// If the frequency is not between 0 and half the rate.
    pub fn low_shelf(rate_hz: f64, corner_hz: f64, gain_db: f64) -> Self {
        let shelf = Self::high_shelf(rate_hz, corner_hz, -gain_db);
        let gain = 10f64.powf(gain_db / 20.0);
        Self { b0: gain * shelf.b0, b1: gain * shelf.b1, b2: gain * shelf.b2, ..shelf }
    }

    /// The digital section of an analogue one, `numerator(s) / denominator(s)` with the constant term first.
    ///
    /// `s` is taken as `scale (1 - z^-1) / (1 + z^-1)`.
    pub(super) fn bilinear(numerator: [f64; 3], denominator: [f64; 3], scale: f64) -> Self {
        let to_digital = |[constant, linear, square]: [f64; 3]| {
            let (linear, square) = (linear * scale, square * scale * scale);
            [constant + linear + square, 2.0 * (constant - square), constant - linear + square]
        };
        Self::scaled(to_digital(numerator), to_digital(denominator))
    }

    /// The same for a first-order section: taken as one of second order, it would have a pole on the unit circle.
    fn bilinear_single(numerator: [f64; 2], denominator: [f64; 2], scale: f64) -> Self {
        let to_digital = |[constant, linear]: [f64; 2]| {
            [constant + linear * scale, constant - linear * scale, 0.0]
        };
        Self::scaled(to_digital(numerator), to_digital(denominator))
    }

    fn scaled(b: [f64; 3], a: [f64; 3]) -> Self {
        Self { b0: b[0] / a[0], b1: b[1] / a[0], b2: b[2] / a[0], a1: a[1] / a[0], a2: a[2] / a[0] }
    }

    /// Response at a frequency, as a complex gain.
    pub fn response(&self, rate_hz: f64, frequency_hz: f64) -> Complex64 {
        let delay = Complex64::cis(-TAU * frequency_hz / rate_hz);
        let numerator = self.b0 + delay * (self.b1 + delay * self.b2);
        let denominator = 1.0 + delay * (self.a1 + delay * self.a2);
        numerator / denominator
    }
}

/// Gain of sections in series at a frequency, in dB.
pub fn gain_db(sections: &[Biquad], rate_hz: f64, frequency_hz: f64) -> f64 {
    let powers = sections.iter().map(|section| section.response(rate_hz, frequency_hz).norm_sqr());
    10.0 * powers.product::<f64>().log10()
}

/// Butterworth low-pass of any order: 3.01 dB down at the corner.
///
/// # Panics
///
/// If the order is 0 or the corner is not between 0 and half the rate.
pub fn low_pass(rate_hz: f64, corner_hz: f64, order: usize) -> Vec<Biquad> {
    butterworth(rate_hz, corner_hz, order, [1.0, 0.0, 0.0], [1.0, 0.0])
}

/// Butterworth high-pass of any order: 3.01 dB down at the corner.
///
/// # Panics
///
/// If the order is 0 or the corner is not between 0 and half the rate.
pub fn high_pass(rate_hz: f64, corner_hz: f64, order: usize) -> Vec<Biquad> {
    butterworth(rate_hz, corner_hz, order, [0.0, 0.0, 1.0], [0.0, 1.0])
}

/// Butterworth band-pass: 3.01 dB down at both edges, unit gain between, `n_sections` sections (order `2 n_sections`).
///
/// All sections have the numerator `1 - z^-2` times one common gain, which the first section carries.
///
/// # Panics
///
/// If there are no sections or the edges are not ascending between 0 and half the rate.
pub fn band_pass(rate_hz: f64, low_hz: f64, high_hz: f64, n_sections: usize) -> Vec<Biquad> {
    assert!(n_sections > 0, "a band-pass has sections");
    assert!(low_hz < high_hz, "the edges {low_hz} and {high_hz} Hz ascend");
    let (low, high) = (warped(rate_hz, low_hz), warped(rate_hz, high_hz));
    let (width, mid_square) = (high - low, low * high);
    let mut sections = Vec::with_capacity(n_sections);
    for pole in upper_poles(n_sections) {
        // s of the low-pass becomes (s^2 + mid^2) / (width s): each pole gives two.
        let half = pole * width / 2.0;
        let root = (half * half - mid_square).sqrt();
        sections.push(zeros_at_the_ends(half + root));
        if pole.im > 1e-9 {
            sections.push(zeros_at_the_ends(half - root));
        }
    }
    let mid_hz = rate_hz / PI * mid_square.sqrt().atan();
    let gain = 10f64.powf(-gain_db(&sections, rate_hz, mid_hz) / 20.0);
    sections[0].b0 *= gain;
    sections[0].b2 *= gain;
    sections
}

/// The section with an analogue pole and its conjugate, and zeros at 0 Hz and half the rate.
fn zeros_at_the_ends(pole: Complex64) -> Biquad {
    let digital = (1.0 + pole) / (1.0 - pole);
    Biquad { b0: 1.0, b1: 0.0, b2: -1.0, a1: -2.0 * digital.re, a2: digital.norm_sqr() }
}

/// Poles of the Butterworth low-pass with corner 1 that do not lie below the real axis.
fn upper_poles(order: usize) -> impl Iterator<Item = Complex64> {
    #[expect(clippy::cast_precision_loss, reason = "an order is small")]
    let angle = move |idx: usize| PI * (2 * idx + order + 1) as f64 / (2 * order) as f64;
    (0..order.div_ceil(2)).map(move |idx| Complex64::cis(angle(idx)))
}

/// Sections of a Butterworth filter; the numerators of a second-order and a first-order part are given for a corner of 1.
fn butterworth(
    rate_hz: f64,
    corner_hz: f64,
    order: usize,
    pair: [f64; 3],
    single: [f64; 2],
) -> Vec<Biquad> {
    assert!(order > 0, "a filter has an order");
    // With s in units of the warped corner, the corner is 1.
    let scale = 1.0 / warped(rate_hz, corner_hz);
    upper_poles(order)
        .map(|pole| {
            if pole.im.abs() < 1e-9 {
                Biquad::bilinear_single(single, [1.0, 1.0], scale)
            } else {
                Biquad::bilinear(pair, [1.0, -2.0 * pole.re, 1.0], scale)
            }
        })
        .collect()
}

fn warped(rate_hz: f64, frequency_hz: f64) -> f64 {
    assert!(
        0.0 < frequency_hz && frequency_hz < rate_hz / 2.0,
        "{frequency_hz} Hz lies between 0 and half of {rate_hz} Hz"
    );
    (PI * frequency_hz / rate_hz).tan()
}

/// Cosine and half width of the equaliser formulae.
fn angle(rate_hz: f64, frequency_hz: f64, q: f64) -> (f64, f64) {
    assert!(
        0.0 < frequency_hz && frequency_hz < rate_hz / 2.0,
        "{frequency_hz} Hz lies between 0 and half of {rate_hz} Hz"
    );
    let omega = TAU * frequency_hz / rate_hz;
    (omega.cos(), omega.sin() / (2.0 * q))
}

/// Sections in series over one channel, in double precision.
#[derive(Clone, Debug)]
pub struct Filter {
    sections: Vec<Biquad>,
    states: Vec<[f64; 2]>,
}

impl Filter {
    /// A filter at rest.
    pub fn new(sections: Vec<Biquad>) -> Self {
        let states = vec![[0.0; 2]; sections.len()];
        Self { sections, states }
    }

    /// Filters one sample.
    pub fn step(&mut self, sample: f64) -> f64 {
        let mut signal = sample;
        for (section, [first, second]) in self.sections.iter().zip(&mut self.states) {
            let out = section.b0 * signal + *first;
            *first = section.b1 * signal - section.a1 * out + *second;
            *second = section.b2 * signal - section.a2 * out;
            signal = out;
        }
        signal
    }

    /// Filters a block in place.
    #[expect(clippy::cast_possible_truncation, reason = "samples are single precision")]
    pub fn process(&mut self, samples: &mut [f32]) {
        for sample in samples {
            *sample = self.step(f64::from(*sample)) as f32;
        }
    }
}
