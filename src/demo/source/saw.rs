//! A sawtooth, and the small unsteadiness of whoever holds the note.
//!
//! The sawtooth is the motion of a bowed string and, filtered, of lips and vocal folds. It is the slope of a parabola, so that its jump is
//! spread over two samples (Välimäki, "Discrete-time synthesis of the sawtooth waveform with reduced aliasing", IEEE Signal
//! Processing Letters 12, 2005). Never a constant part.

use std::f64::consts::TAU;

use crate::demo::random::Random;
use crate::demo::source::canvas::whole;

/// A rising sawtooth between -1 and 1.
#[derive(Clone, Copy, Debug)]
pub(super) struct Saw {
    /// Place in the period; a whole period is 2^32, so that it wraps by itself. 0 is the rising zero.
    phase: u32,
}

/// 2^32 as a number.
const PERIOD: f64 = 4_294_967_296.0;

impl Saw {
    /// A sawtooth that begins at a share of its period, 0 to 1; 0 is the rising zero.
    pub(super) fn new(share: f64) -> Self {
        Self { phase: u32::try_from(whole(share * PERIOD)).unwrap_or(0) }
    }

    /// Adds the next samples; `step` is the frequency over the sample rate, below 0.5.
    pub(super) fn add(&mut self, step: f64, samples: &mut [f64]) {
        let stride = u32::try_from(whole(step * PERIOD)).unwrap_or(u32::MAX / 2).max(1);
        let scale = 0.25 * PERIOD / f64::from(stride);
        for sample in samples {
            let before = f64::from(self.phase.cast_signed()) * (2.0 / PERIOD);
            self.phase = self.phase.wrapping_add(stride);
            let now = f64::from(self.phase.cast_signed()) * (2.0 / PERIOD);
            *sample += scale * (now * now - before * before);
        }
    }
}

/// How a pitch wavers: vibrato and a slow wander.
#[derive(Clone, Debug)]
pub(super) struct Waver {
    random: Random,
    phase: f64,
    speed_hz: f64,
    wander: f64,
}

impl Waver {
    /// A player's or singer's own waver: vibrato of roughly `speed_hz`.
    pub(super) fn new(mut random: Random, speed_hz: f64) -> Self {
        let phase = random.unit();
        let speed_hz = speed_hz * random.between(0.93, 1.07);
        Self { random, phase, speed_hz, wander: 0.0 }
    }

    /// Pitch ratio after another `step_s`: vibrato of this depth, and a wander with a standard deviation of this size.
    pub(super) fn step(&mut self, step_s: f64, depth_cents: f64, wander_cents: f64) -> f64 {
        self.phase = (self.phase + step_s * self.speed_hz).fract();
        // A leaky sum of small steps with a memory of 0.1 s.
        let leak = (-step_s / 0.1).exp();
        self.wander = leak * self.wander + (1.0 - leak * leak).sqrt() * self.random.bell();
        let cents = depth_cents * (TAU * self.phase).sin() + wander_cents * self.wander;
        (cents / 1200.0).exp2()
    }
}
