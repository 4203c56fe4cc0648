//! Halves the rate of eight channels behind an elliptic low-pass.
//!
//! Takes frames by twos, gives one for each two. Up to 0.206 of the rate passes within 0.001 dB; what would fold onto it, from 0.294
//! on, is 80 dB down. Low notes come out some samples late, those near the edge a few times as many.
//!
//! Source: R. A. Valenzuela and A. G. Constantinides, "Digital signal processing schemes for efficient interpolation and decimation",
//! IEE Proc. G 130(6), 1983 (from memory).

use std::f64::consts::PI;

use super::lanes::{Frame, HalvingState, Isa, N_HALVING_SECTIONS, halve};

/// Width between what passes and what is stopped, as a share of the rate.
const TRANSITION: f64 = 0.088;

/// A low-pass that halves the rate.
#[derive(Clone, Debug)]
pub struct HalfBand {
    isa: Isa,
    sections: [f32; N_HALVING_SECTIONS],
    state: HalvingState,
}

impl HalfBand {
    /// At rest.
    #[expect(clippy::cast_possible_truncation, reason = "signals are single precision")]
    pub fn new(isa: Isa) -> Self {
        let sections = sections().map(|a| a as f32);
        Self { isa, sections, state: HalvingState::default() }
    }

    /// Takes frames, fills `output`.
    ///
    /// # Panics
    ///
    /// If there are not two frames in for one out.
    pub fn process(&mut self, input: &[Frame], output: &mut [Frame]) {
        halve(self.isa, input, &self.sections, &mut self.state, output);
    }

    /// How far an output lags behind the first of its two inputs, in samples of the input, at low frequencies.
    pub fn delay() -> f64 {
        // A section waits by (1-a)/(1+a) of its own samples; a pair of inputs has its later one in the first chain.
        let waits = sections().map(|a| 2.0 * (1.0 - a) / (1.0 + a));
        let chain = |first: usize| waits.iter().skip(first).step_by(2).sum::<f64>();
        (chain(0) + chain(1) - 1.0) / 2.0
    }
}

/// Coefficients of the sections, from the smallest to the largest: they belong to the two chains by turns.
fn sections() -> [f64; N_HALVING_SECTIONS] {
    let edge = ((1.0 - 2.0 * TRANSITION) * PI / 4.0).tan();
    let k = edge * edge;
    let root = (1.0 - k * k).sqrt().sqrt();
    let e = 0.5 * (1.0 - root) / (1.0 + root);
    // The nome of the elliptic functions, by its series.
    let nome = e + 2.0 * e.powi(5) + 15.0 * e.powi(9) + 150.0 * e.powi(13);
    std::array::from_fn(|at| section(at, k, nome))
}

/// A coefficient by quotients of theta series, whose terms vanish fast.
#[expect(clippy::cast_precision_loss, reason = "a few sections and terms")]
fn section(at: usize, k: f64, nome: f64) -> f64 {
    let turn = (at + 1) as f64 * PI / (2 * N_HALVING_SECTIONS + 1) as f64;
    let term = |i: i32, power: i32| if i % 2 == 0 { 1.0 } else { -1.0 } * nome.powi(power);
    let above: f64 =
        (0..8).map(|i| term(i, i * (i + 1)) * (f64::from(2 * i + 1) * turn).sin()).sum();
    let below: f64 = (1..8).map(|i| term(i, i * i) * (f64::from(2 * i) * turn).cos()).sum();
    let square = (nome.powf(0.25) * above / (0.5 + below)).powi(2);
    let x = ((1.0 - square * k) * (1.0 - square / k)).sqrt() / (1.0 + square);
    (1.0 - x) / (1.0 + x)
}
