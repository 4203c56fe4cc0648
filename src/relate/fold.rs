//! # Mono loss and lean of the main mix
//!
//! What remains of the mix where both sides are heard as one, and whether one side is louder.
//!
//! - **Formula:** loss: `10 log10(2 M / (L + R))`, where L, R and M are K-weighted powers of the sides and of
//!   `(l + r) / 2`, in 400 ms blocks that pass the gates of integrated loudness; once whole, once within 224 to
//!   3548 Hz (the third-octaves 250 Hz to 3.15 kHz). Lean: `10 log10(L / R)` over 60 s blocks, median
//! - **Unit:** LU
//! - **Range:** 0 for identical sides, -3.0 for independent ones, far below for inverted ones
//! - **Source:** ITU-R BS.1770-5 (weighting, sum of channels, gates)
//! - **Window:** the spans asked for; lean: whole recording
//! - **No value:** too short; silent; one side is silent
//! - **Misleads when:** the sides were recorded at different trims (lean)

use crate::dsp::biquad::{Filter, band_pass};
use crate::dsp::gate::{ABSOLUTE_GATE_LUFS, loudness_power};
use crate::dsp::percentile::median;
use crate::dsp::steps::Steps;
use crate::dsp::weighting;
use crate::measure::Trace;
use crate::unit::{Span, Unmeasured};

/// Steps of the traces in a second.
const PER_S: u32 = 10;

/// Edges of the middle band, in Hz (IEC 61260-1: outer edges of the third-octaves 250 Hz and 3.15 kHz).
const MIDDLE_HZ: [f64; 2] = [223.87, 3548.13];

/// Sections of the middle band: 24 dB an octave.
const SECTIONS: usize = 4;

/// Steps in a block of 400 ms, and in a block of 60 s; the last one counts from half of that.
const BLOCK: usize = 4;
const LEAN_BLOCK: usize = 600;

/// Relative gate of integrated loudness, as a share of power: -10 LU.
const RELATIVE_GATE: f64 = 0.1;

/// Lean beyond this is counted in seconds, in LU.
const FAR_LU: f64 = 3.0;

/// A side is silent if it lies this far below the other, in LU.
const SILENT_LU: f64 = 40.0;

/// Powers of the sides and of their mean over time.
#[derive(Clone, Debug, PartialEq)]
pub struct Fold {
    whole: Powers,
    middle: Powers,
}

#[derive(Clone, Debug, PartialEq)]
struct Powers {
    left: Trace,
    right: Trace,
    mono: Trace,
}

/// Loss of loudness in mono.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MonoFold {
    /// Overall.
    pub whole_lu: f64,
    /// Within 224 to 3548 Hz.
    pub middle_lu: f64,
}

/// How far the mix leans to the left (positive) or right.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lean {
    /// Median over blocks of 60 s.
    pub median_lu: f64,
    /// Time in blocks that lean by more than 3 LU to either side, in seconds.
    pub far_s: f64,
}

/// Measures the sides of the main mix.
pub struct FoldMeter {
    steps: Steps,
    n_left: usize,
    n_in_step: usize,
    k: [Filter; 2],
    band: [Filter; 2],
    sums: [[f64; 3]; 2],
    fold: Fold,
}

impl FoldMeter {
    /// A meter for a pair of sides at `rate_hz`.
    pub fn new(rate_hz: u32) -> Self {
        let mut steps = Steps::new(rate_hz, PER_S);
        let n_left = steps.take();
        let high_hz = MIDDLE_HZ[1].min(0.45 * f64::from(rate_hz));
        let k = || Filter::new(weighting::k(rate_hz).to_vec());
        let band = || Filter::new(band_pass(f64::from(rate_hz), MIDDLE_HZ[0], high_hz, SECTIONS));
        let trace = || Trace::new(1.0 / f64::from(PER_S));
        let powers = || Powers { left: trace(), right: trace(), mono: trace() };
        Self {
            steps,
            n_left,
            n_in_step: n_left,
            k: [k(), k()],
            band: [band(), band()],
            sums: [[0.0; 3]; 2],
            fold: Fold { whole: powers(), middle: powers() },
        }
    }

    /// Takes a block of both sides.
    ///
    /// # Panics
    ///
    /// If the sides differ in length.
    pub fn push(&mut self, left: &[f32], right: &[f32]) {
        assert_eq!(left.len(), right.len(), "the sides are equally long");
        for (&left, &right) in left.iter().zip(right) {
            let (left, right) = (self.k[0].step(left.into()), self.k[1].step(right.into()));
            let in_middle = [self.band[0].step(left), self.band[1].step(right)];
            for (sums, [left, right]) in self.sums.iter_mut().zip([[left, right], in_middle]) {
                sums[0] += left * left;
                sums[1] += right * right;
                sums[2] += (left + right) * (left + right) / 4.0;
            }
            self.n_left -= 1;
            if self.n_left == 0 {
                self.close();
            }
        }
    }

    #[expect(clippy::cast_precision_loss, reason = "a step has some thousands of samples")]
    fn close(&mut self) {
        let n_samples = self.n_in_step as f64;
        let Fold { whole, middle } = &mut self.fold;
        for (powers, sums) in [whole, middle].into_iter().zip(&mut self.sums) {
            let [left, right, mono] = std::mem::take(sums).map(|sum| sum / n_samples);
            powers.left.push_power(left);
            powers.right.push_power(right);
            powers.mono.push_power(mono);
        }
        self.n_left = self.steps.take();
        self.n_in_step = self.n_left;
    }

    /// The powers over time.
    pub fn finish(self) -> Fold {
        self.fold
    }
}

impl Fold {
    /// Loss in mono within spans (songs).
    ///
    /// # Errors
    ///
    /// [`Unmeasured::TooShort`] without a block of 400 ms; [`Unmeasured::Silent`] if none passes the gates.
    pub fn mono_fold(&self, spans: &[Span]) -> Result<MonoFold, Unmeasured> {
        let blocks: Vec<(usize, usize)> =
            spans.iter().flat_map(|span| self.blocks(*span)).collect();
        if blocks.is_empty() {
            let have_s = spans.iter().map(|span| span.length_s()).fold(0.0, f64::max);
            return Err(Unmeasured::TooShort { have_s, need_s: 0.4 });
        }
        let loudness = |&(from, to): &(usize, usize)| {
            self.whole.left.mean_power(from, to) + self.whole.right.mean_power(from, to)
        };
        let floor = loudness_power(ABSOLUTE_GATE_LUFS);
        let over_floor: Vec<f64> = blocks.iter().map(loudness).filter(|&p| p > floor).collect();
        let gate = RELATIVE_GATE * mean(&over_floor).ok_or(Unmeasured::Silent)?;
        let passed: Vec<(usize, usize)> =
            blocks.into_iter().filter(|block| loudness(block) > gate.max(floor)).collect();
        let loss_lu = |powers: &Powers| {
            let sum = |trace: &Trace| -> f64 {
                passed.iter().map(|&(from, to)| trace.mean_power(from, to)).sum()
            };
            let sides = sum(&powers.left) + sum(&powers.right);
            10.0 * (2.0 * sum(&powers.mono).max(1e-30) / sides.max(1e-30)).log10()
        };
        // A trace holds nothing below -220 dB: inverted sides end there.
        Ok(MonoFold { whole_lu: loss_lu(&self.whole), middle_lu: loss_lu(&self.middle) })
    }

    /// Whether the mix leans to one side.
    ///
    /// # Errors
    ///
    /// [`Unmeasured::TooShort`] below 30 s; [`Unmeasured::Silent`]; [`Unmeasured::Because`] if one side is silent.
    #[expect(clippy::cast_precision_loss, reason = "counts of steps are small")]
    pub fn lean(&self) -> Result<Lean, Unmeasured> {
        let (left, right) = (&self.whole.left, &self.whole.right);
        let n_steps = left.len();
        let floor = loudness_power(ABSOLUTE_GATE_LUFS);
        let mut leans = Vec::new();
        let mut far = 0;
        for from in (0..n_steps).step_by(LEAN_BLOCK) {
            let to = (from + LEAN_BLOCK).min(n_steps);
            let [l, r] = [left, right].map(|side| side.mean_power(from, to));
            if 2 * (to - from) < LEAN_BLOCK || l + r <= floor {
                continue;
            }
            let lean_lu = 10.0 * (l.max(1e-20) / r.max(1e-20)).log10();
            far += if lean_lu.abs() > FAR_LU { to - from } else { 0 };
            leans.push(lean_lu);
        }
        if 2 * n_steps < LEAN_BLOCK {
            let have_s = n_steps as f64 / f64::from(PER_S);
            return Err(Unmeasured::TooShort { have_s, need_s: 30.0 });
        }
        let median_lu = median(&leans).ok_or(Unmeasured::Silent)?;
        if median_lu.abs() > SILENT_LU {
            return Err(Unmeasured::Because("one side is silent"));
        }
        Ok(Lean { median_lu, far_s: far as f64 / f64::from(PER_S) })
    }

    /// Blocks of 400 ms, three quarters over each other, inside a span.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "step numbers are small and positive"
    )]
    fn blocks(&self, span: Span) -> impl Iterator<Item = (usize, usize)> {
        let per_s = f64::from(PER_S);
        let from = (span.start_s * per_s).round().max(0.0) as usize;
        let to = ((span.end_s * per_s).round().max(0.0) as usize).min(self.whole.left.len());
        (from..(to + 1).saturating_sub(BLOCK)).map(|step| (step, step + BLOCK))
    }
}

fn mean(values: &[f64]) -> Option<f64> {
    #[expect(clippy::cast_precision_loss, reason = "counts of blocks are small")]
    let n_values = values.len() as f64;
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / n_values)
}
