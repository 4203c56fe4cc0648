//! Keeps every n-th sample behind a low-pass filter.
//!
//! Takes frames (eight channels) in blocks of any length, gives a stream at a fraction of the rate. Never lets through
//! what would fold onto the band that is asked for by more than -80 dB.

use std::f64::consts::PI;

use super::Frames;
use super::lanes::{Frame, Isa, LANES, filter_every};

/// Attenuation of what would fold onto the kept band.
const STOP_DB: f64 = 80.0;

/// How many new frames are filtered at a time, in steps of the factor.
const STEPS_AT_ONCE: usize = 64;

/// Low-pass filters and decimator for eight channels: in two stages where the factor can be split, which costs a third.
#[derive(Clone, Debug)]
pub struct Decimator {
    first: Stage,
    second: Option<Stage>,
    between: Vec<Frame>,
}

impl Decimator {
    /// A decimator by `factor` that keeps 0 to `pass_hz` flat within 0.01 dB.
    ///
    /// Kaiser-windowed sincs; length and shape after J. F. Kaiser, "Nonrecursive digital filter design using the
    /// I0-sinh window function", Proc. IEEE ISCAS 1974 (from memory). What lies between the band and its image may
    /// fold, outside the band.
    ///
    /// # Panics
    ///
    /// If the factor is 0 or the band doesn't fit under half the new rate.
    #[expect(clippy::cast_precision_loss, reason = "a factor is small")]
    pub fn new(rate_hz: f64, factor: usize, pass_hz: f64) -> Self {
        assert!(factor > 0, "at least every sample is kept");
        let fits = pass_hz < rate_hz / factor as f64 / 2.0;
        assert!(fits, "the band fits under half the new rate");
        let root = (2..).take_while(|part| part * part <= factor);
        let Some(part) = root.filter(|part| factor.is_multiple_of(*part)).last() else {
            let first = Stage::new(rate_hz, factor, pass_hz);
            return Self { first, second: None, between: Vec::new() };
        };
        let second = Stage::new(rate_hz / part as f64, factor / part, pass_hz);
        let first = Stage::new(rate_hz, part, pass_hz);
        Self { first, second: Some(second), between: Vec::new() }
    }

    /// How far the output lags behind the input, in input samples.
    pub fn delay(&self) -> usize {
        let second = self.second.as_ref().map_or(0, |stage| stage.delay() * self.first.factor);
        self.first.delay() + second
    }

    /// Takes frames, appends what comes out to `output`.
    pub fn push(&mut self, frames: &[Frame], output: &mut Vec<Frame>) {
        match &mut self.second {
            None => self.first.push(frames, output),
            Some(second) => {
                self.between.clear();
                self.first.push(frames, &mut self.between);
                second.push(&self.between, output);
            }
        }
    }
}

/// One filter that keeps every `factor`-th frame.
#[derive(Clone, Debug)]
struct Stage {
    isa: Isa,
    factor: usize,
    /// The taps up to the middle one.
    half: Vec<f32>,
    frames: Frames<Frame>,
}

impl Stage {
    #[expect(clippy::cast_precision_loss, reason = "a factor is small")]
    fn new(rate_hz: f64, factor: usize, pass_hz: f64) -> Self {
        let stop_hz = rate_hz / factor as f64 - pass_hz;
        let half = low_pass(pass_hz / rate_hz, stop_hz / rate_hz);
        let frames = Frames::new(2 * half.len() - 2, STEPS_AT_ONCE * factor);
        Self { isa: Isa::best(), factor, half, frames }
    }

    fn delay(&self) -> usize {
        self.half.len() - 1
    }

    fn push(&mut self, frames: &[Frame], output: &mut Vec<Frame>) {
        let Self { isa, factor, half, .. } = self;
        self.frames.push(frames, |_, some| {
            let done = output.len();
            output.resize(done + STEPS_AT_ONCE, [0.0; LANES]);
            filter_every(*isa, some, half, *factor, &mut output[done..]);
        });
    }
}

/// Taps up to the middle one of a low-pass with the given edges (in cycles a sample), of odd length and unit gain at 0 Hz.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss,
    reason = "a filter has some tens of taps, stored as f32"
)]
fn low_pass(pass: f64, stop: f64) -> Vec<f32> {
    let beta = 0.1102 * (STOP_DB - 8.7);
    let order = ((STOP_DB - 8.0) / (2.285 * 2.0 * PI * (stop - pass))).ceil() as usize;
    let half = order.div_ceil(2);
    let cut = (pass + stop) / 2.0;
    let tap = |n: usize| {
        let x = n as f64 - half as f64;
        let place = x / (half as f64);
        let window = bessel_i0(beta * (1.0 - place * place).max(0.0).sqrt()) / bessel_i0(beta);
        let sinc = if n == half { 2.0 * cut } else { (2.0 * PI * cut * x).sin() / (PI * x) };
        window * sinc
    };
    let taps: Vec<f64> = (0..=2 * half).map(tap).collect();
    let gain: f64 = taps.iter().sum();
    taps[..=half].iter().map(|tap| (tap / gain) as f32).collect()
}

/// Modified Bessel function of the first kind, order 0, by its power series.
fn bessel_i0(x: f64) -> f64 {
    let quarter = x * x / 4.0;
    let (mut term, mut sum) = (1.0, 1.0);
    for k in 1..60 {
        term *= quarter / f64::from(k * k);
        sum += term;
    }
    sum
}
