//! Second-order filters of the desk.
//!
//! Takes samples, changes them in place. Designs by the bilinear transform (R. Bristow-Johnson, "Cookbook formulae for audio
//! equalizer biquad filter coefficients": from memory). Never changes its settings while it runs.

use std::f64::consts::{FRAC_1_SQRT_2, TAU};

use crate::demo::scene::{Eq, EqKind};

/// A second-order section, transposed direct form II.
#[derive(Clone, Debug)]
pub struct Biquad {
    b: [f64; 3],
    a: [f64; 2],
    state: [f64; 2],
}

impl Biquad {
    /// A section from its coefficients, `a0` not yet divided out.
    pub fn new(b: [f64; 3], a: [f64; 3]) -> Self {
        Self { b: b.map(|b| b / a[0]), a: [a[1] / a[0], a[2] / a[0]], state: [0.0; 2] }
    }

    /// A Butterworth high-pass: -3 dB at its corner, 12 dB an octave below.
    pub fn high_pass(corner_hz: f64, rate_hz: f64) -> Self {
        let (cos, alpha) = angles(corner_hz, FRAC_1_SQRT_2, rate_hz);
        let b = [0.5 * (1.0 + cos), -(1.0 + cos), 0.5 * (1.0 + cos)];
        Self::new(b, [1.0 + alpha, -2.0 * cos, 1.0 - alpha])
    }

    /// A Butterworth low-pass.
    pub fn low_pass(corner_hz: f64, rate_hz: f64) -> Self {
        let (cos, alpha) = angles(corner_hz, FRAC_1_SQRT_2, rate_hz);
        let b = [0.5 * (1.0 - cos), 1.0 - cos, 0.5 * (1.0 - cos)];
        Self::new(b, [1.0 + alpha, -2.0 * cos, 1.0 - alpha])
    }

    /// A band of the equaliser.
    pub fn eq(eq: &Eq, rate_hz: f64) -> Self {
        let (cos, alpha) = angles(eq.hz, eq.q, rate_hz);
        let amp = 10_f64.powf(eq.gain_db / 40.0);
        let (more, less, root) = (amp + 1.0, amp - 1.0, 2.0 * amp.sqrt() * alpha);
        match eq.kind {
            EqKind::Bell => Self::new(
                [1.0 + alpha * amp, -2.0 * cos, 1.0 - alpha * amp],
                [1.0 + alpha / amp, -2.0 * cos, 1.0 - alpha / amp],
            ),
            EqKind::LowShelf => Self::new(
                [
                    amp * (more - less * cos + root),
                    2.0 * amp * (less - more * cos),
                    amp * (more - less * cos - root),
                ],
                [more + less * cos + root, -2.0 * (less + more * cos), more + less * cos - root],
            ),
            EqKind::HighShelf => Self::new(
                [
                    amp * (more + less * cos + root),
                    -2.0 * amp * (less + more * cos),
                    amp * (more + less * cos - root),
                ],
                [more - less * cos + root, 2.0 * (less - more * cos), more - less * cos - root],
            ),
        }
    }

    /// A resonance that falls by 60 dB in a time, with a gain of 1 at its frequency.
    pub fn resonance(hz: f64, t60_s: f64, rate_hz: f64) -> Self {
        let radius = (-1000_f64.ln() / (t60_s * rate_hz)).exp();
        let b = 0.5 * (1.0 - radius * radius);
        Self::new([b, 0.0, -b], [1.0, -2.0 * radius * (TAU * hz / rate_hz).cos(), radius * radius])
    }

    /// The two sections of the loudness weighting at 48 kHz (ITU-R BS.1770-5, annex 1, tables 1 and 2).
    pub fn loudness_weighting() -> [Self; 2] {
        [
            Self::new(
                [1.535_124_859_586_97, -2.691_696_189_406_38, 1.198_392_810_852_85],
                [1.0, -1.690_659_293_182_41, 0.732_480_774_215_85],
            ),
            Self::new([1.0, -2.0, 1.0], [1.0, -1.990_047_454_833_98, 0.990_072_250_366_21]),
        ]
    }

    /// The next sample.
    pub fn step(&mut self, x: f64) -> f64 {
        let y = self.b[0] * x + self.state[0];
        self.state[0] = self.b[1] * x - self.a[0] * y + self.state[1];
        self.state[1] = self.b[2] * x - self.a[1] * y;
        y
    }

    /// The next samples, in place.
    #[expect(clippy::cast_possible_truncation, reason = "a sample in single precision")]
    pub fn run(&mut self, samples: &mut [f32]) {
        for x in samples {
            *x = self.step(f64::from(*x)) as f32;
        }
    }
}

/// Cosine of the frequency on the circle, and the width of the section there.
fn angles(hz: f64, q: f64, rate_hz: f64) -> (f64, f64) {
    let angle = TAU * hz / rate_hz;
    (angle.cos(), angle.sin() / (2.0 * q))
}
