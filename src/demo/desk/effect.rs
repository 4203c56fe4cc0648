//! A plain reverberator for the desk's effect.
//!
//! Takes the send, gives the two sides of the return. Eight delays fed back through a Hadamard matrix (J.-M. Jot,
//! "Digital delay networks for designing artificial reverberators", AES 90th convention, 1991: from memory). Never rings at one note.

use std::collections::VecDeque;

use super::Biquad;

/// Lengths of the delays at 48 kHz, in samples: no two share a factor.
const LENGTHS: [f64; 8] = [1423.0, 1571.0, 1747.0, 1913.0, 2083.0, 2281.0, 2477.0, 2689.0];

/// Treble loss of each round: share of the sample before.
const DAMPING: f32 = 0.35;

/// Corner of the high-pass before the effect, in Hz (common practice for voices).
const HIGH_PASS_HZ: f64 = 180.0;

/// A reverberator.
#[derive(Clone, Debug)]
pub struct Reverberator {
    high_pass: Biquad,
    predelay: VecDeque<f32>,
    lines: Vec<VecDeque<f32>>,
    gains: Vec<f32>,
    damped: [f32; 8],
}

impl Reverberator {
    /// A silent reverberator.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "delays of some thousand samples and gains below 1"
    )]
    pub fn new(t60_s: f64, predelay_s: f64, rate_hz: f64) -> Self {
        let lengths = LENGTHS.map(|n| (n * rate_hz / 48_000.0).round());
        let gain = |n: &f64| 10_f64.powf(-3.0 * n / (t60_s * rate_hz)) as f32;
        let silence = |n: f64| std::iter::repeat_n(0.0, n.max(1.0) as usize).collect();
        Self {
            high_pass: Biquad::high_pass(HIGH_PASS_HZ, rate_hz),
            predelay: silence((predelay_s * rate_hz).round()),
            gains: lengths.iter().map(gain).collect(),
            lines: lengths.iter().map(|n| silence(*n)).collect(),
            damped: [0.0; 8],
        }
    }

    /// Left and right of the return for the next samples of the send.
    #[expect(clippy::cast_possible_truncation, reason = "a sample in single precision")]
    pub fn run(&mut self, send: &[f32]) -> [Vec<f32>; 2] {
        let mut sides = [Vec::with_capacity(send.len()), Vec::with_capacity(send.len())];
        for x in send {
            self.predelay.push_back(self.high_pass.step(f64::from(*x)) as f32);
            let input = self.predelay.pop_front().unwrap_or(0.0);
            let mut round = [0.0_f32; 8];
            for (idx, line) in self.lines.iter_mut().enumerate() {
                let out = line.pop_front().unwrap_or(0.0);
                self.damped[idx] += (1.0 - DAMPING) * (out - self.damped[idx]);
                round[idx] = self.damped[idx] * self.gains[idx];
            }
            sides[0].push(0.5 * (round[0] + round[2] - round[4] + round[6]));
            sides[1].push(0.5 * (round[1] - round[3] + round[5] + round[7]));
            hadamard(&mut round);
            for (line, fed_back) in self.lines.iter_mut().zip(round) {
                line.push_back(fed_back + 0.5 * input);
            }
        }
        sides
    }
}

/// Multiplies by the Hadamard matrix, scaled to keep the energy.
fn hadamard(values: &mut [f32; 8]) {
    for half in [1, 2, 4] {
        for pair in 0..8 {
            if pair & half == 0 {
                let (a, b) = (values[pair], values[pair + half]);
                (values[pair], values[pair + half]) = (a + b, a - b);
            }
        }
    }
    values.iter_mut().for_each(|value| *value *= std::f32::consts::FRAC_1_SQRT_2 / 2.0);
}
