//! Samples between samples, for a recording whose clock runs a little faster or slower.
//!
//! Takes samples, gives those at evenly spaced places that need not be whole: `y(k) = sum x(n) h(p + k s - n)` with a sinc under a raised
//! cosine, 24 samples to each side. Steps near 1 only: nothing is filtered against aliases.

use std::f64::consts::PI;

/// Samples on each side of a place: up to 0.3 of the rate the error stays below -80 dB.
pub const REACH: usize = 24;

/// Reads a recording at places that are not whole.
#[derive(Clone, Debug)]
pub struct Slide {
    step: f64,
    /// Next place, from the first sample that is held.
    place: f64,
    held: Vec<f32>,
}

impl Slide {
    /// Begins `offset` behind sample number [`REACH`] of what will come, 0 to 1, and goes on by `step`.
    pub fn new(offset: f64, step: f64) -> Self {
        #[expect(clippy::cast_precision_loss, reason = "a few samples")]
        let place = REACH as f64 + offset;
        Self { step, place, held: Vec::new() }
    }

    /// Takes samples; appends all values that they allow.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss,
        reason = "places are positive and within what is held"
    )]
    pub fn push(&mut self, samples: &[f32], out: &mut Vec<f32>) {
        self.held.extend_from_slice(samples);
        while self.place + (REACH as f64) < self.held.len() as f64 {
            out.push(self.at(self.place));
            self.place += self.step;
        }
        let n_done = (self.place as usize).saturating_sub(REACH).min(self.held.len());
        self.held.drain(..n_done);
        self.place -= n_done as f64;
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss,
        reason = "places are positive and within what is held"
    )]
    fn at(&self, place: f64) -> f32 {
        let middle = place as usize;
        let share = place - middle as f64;
        if share < 1e-9 {
            return self.held[middle];
        }
        let first = middle + 1 - REACH;
        // sin(pi (n - place)) only changes sign from sample to sample.
        let mut sine = (PI * (share + REACH as f64 - 1.0)).sin();
        let mut sum = 0.0;
        for (tap, &x) in self.held[first..first + 2 * REACH].iter().enumerate() {
            let away = share + REACH as f64 - 1.0 - tap as f64;
            let window = 0.5 + 0.5 * (PI * away / REACH as f64).cos();
            sum += f64::from(x) * window * sine / (PI * away);
            sine = -sine;
        }
        sum as f32
    }
}
