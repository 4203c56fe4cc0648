//! Samples between samples, for a recording whose clock runs a little faster or slower.
//!
//! Takes samples, gives those at evenly spaced places that need not be whole: `y(k) = sum x(n) h(p + k s - n)` with a sinc under a raised
//! cosine, 24 samples to each side, held for 512 places between two samples and linear between those (error below -100 dB). Steps near 1
//! only: nothing is filtered against aliases.

use std::f64::consts::PI;
use std::sync::LazyLock;

use super::dot::dot;
use super::window::sinc;

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
        let place = share * PLACES as f64;
        let (below, between) = (place as usize, place.fract() as f32);
        let near = &self.held[middle + 1 - REACH..middle + 1 + REACH];
        (1.0 - between) * dot(near, &KERNELS[below]) + between * dot(near, &KERNELS[below + 1])
    }
}

/// Weights of the samples around a place, the earliest first.
type Kernel = [f32; 2 * REACH];

/// Places between two samples for which weights are held.
const PLACES: usize = 512;

/// The weights of each of these places, and those of the next sample: a cosine for every tap would take a microsecond a sample.
static KERNELS: LazyLock<Vec<Kernel>> = LazyLock::new(|| (0..=PLACES).map(kernel).collect());

/// Weights of a place between two samples.
#[expect(clippy::cast_possible_truncation, clippy::cast_precision_loss, reason = "small numbers")]
fn kernel(place: usize) -> Kernel {
    let share = place as f64 / PLACES as f64;
    std::array::from_fn(|tap| {
        let away = share + REACH as f64 - 1.0 - tap as f64;
        let window = 0.5 + 0.5 * (PI * away / REACH as f64).cos();
        (window * sinc(away)) as f32
    })
}
