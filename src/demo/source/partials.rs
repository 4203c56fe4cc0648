//! Decaying partials: the tone of everything that is struck.
//!
//! Takes frequencies and decay times, adds the ringing to samples. A partial is a complex number that is turned and shrunk from one
//! sample to the next. Never rings on below hearing.

use std::f64::consts::TAU;

use crate::demo::source::canvas::{keep, narrow};

/// Samples made at once.
const CHUNK: usize = 64;

/// A partial below this has died away: 120 dB under its scale of 1.
const SILENT: f64 = 1e-6;

/// One partial.
#[derive(Clone, Copy, Debug)]
pub(super) struct Partial {
    /// Frequency, in Hz.
    pub(super) at_hz: f64,
    /// Time to fall by 60 dB, in seconds.
    pub(super) t60_s: f64,
}

/// Partials that ring together.
#[derive(Clone, Debug)]
pub(super) struct Bank {
    partials: Vec<Partial>,
    ringings: Vec<Ringing>,
    rate_hz: f64,
}

/// A complex number as its real and its imaginary part.
type Complex = (f64, f64);

#[derive(Clone, Debug)]
struct Ringing {
    now: Complex,
    turn: Complex,
    /// The turns of the next samples, 1 to [`CHUNK`] of them; empty until they are needed. Single precision is enough: each
    /// chunk begins from `now`.
    ahead: Vec<(f32, f32)>,
}

impl Bank {
    /// Partials at rest.
    pub(super) fn new(partials: Vec<Partial>, rate_hz: f64) -> Self {
        let rest = Ringing { now: (0.0, 0.0), turn: (0.0, 0.0), ahead: Vec::new() };
        let ringings = vec![rest; partials.len()];
        let mut bank = Self { partials, ringings, rate_hz };
        bank.tune(1.0, 1.0);
        bank
    }

    /// Sets all frequencies and decay times to multiples of their own.
    pub(super) fn tune(&mut self, pitch_ratio: f64, ring_ratio: f64) {
        for (partial, ringing) in self.partials.iter().zip(&mut self.ringings) {
            let angle = TAU * pitch_ratio * partial.at_hz / self.rate_hz;
            let shrink = keep(partial.t60_s * ring_ratio, self.rate_hz);
            let (sin, cos) = angle.sin_cos();
            ringing.turn = (shrink * cos, shrink * sin);
            ringing.ahead.clear();
        }
    }

    /// Lets everything ring no longer than this.
    pub(super) fn shorten(&mut self, t60_s: f64) {
        for partial in &mut self.partials {
            partial.t60_s = partial.t60_s.min(t60_s);
        }
        self.tune(1.0, 1.0);
    }

    /// Strikes a partial: an amplitude that begins at its zero, turned on by a phase in radians.
    pub(super) fn strike(&mut self, idx: usize, amplitude: f64, phase: f64) {
        let now = &mut self.ringings[idx].now;
        now.0 += amplitude * phase.cos();
        now.1 += amplitude * phase.sin();
    }

    /// Leaves each partial a share of its amplitude.
    pub(super) fn damp(&mut self, share: f64) {
        for ringing in &mut self.ringings {
            ringing.now = (ringing.now.0 * share, ringing.now.1 * share);
        }
    }

    /// Adds the ringing to samples.
    pub(super) fn run(&mut self, samples: &mut [f64]) {
        for chunk in samples.chunks_mut(CHUNK) {
            let mut sum = [0.0_f32; CHUNK];
            for ringing in &mut self.ringings {
                if ringing.rests() {
                    continue;
                }
                if chunk.len() == CHUNK {
                    ringing.leap(&mut sum);
                } else {
                    ringing.step(&mut sum[..chunk.len()]);
                }
            }
            for (sample, value) in chunk.iter_mut().zip(sum) {
                *sample += f64::from(value);
            }
        }
    }
}

impl Ringing {
    /// One sample after the other.
    fn step(&mut self, sum: &mut [f32]) {
        for value in sum {
            self.now = times(self.now, self.turn);
            *value += narrow(self.now.1);
        }
    }

    /// A whole chunk: each sample is the present number turned ahead, independent of its neighbours.
    fn leap(&mut self, sum: &mut [f32; CHUNK]) {
        if self.ahead.is_empty() {
            let mut turned = (1.0, 0.0);
            self.ahead.extend((0..CHUNK).map(|_| {
                turned = times(turned, self.turn);
                (narrow(turned.0), narrow(turned.1))
            }));
        }
        let (real, imaginary) = (narrow(self.now.0), narrow(self.now.1));
        for (value, &(cos, sin)) in sum.iter_mut().zip(&self.ahead) {
            *value += real * sin + imaginary * cos;
        }
        let mut turn = self.turn;
        for _ in 0..CHUNK.ilog2() {
            turn = times(turn, turn);
        }
        self.now = times(self.now, turn);
    }

    /// Whether nothing is heard any more; then the memory is cleared.
    fn rests(&mut self) -> bool {
        let rests = self.now.0.abs().max(self.now.1.abs()) < SILENT;
        if rests {
            self.now = (0.0, 0.0);
        }
        rests
    }
}

fn times(one: Complex, other: Complex) -> Complex {
    (one.0 * other.0 - one.1 * other.1, one.0 * other.1 + one.1 * other.0)
}
