//! # Two channels on one source
//!
//! Whether two microphones (or a microphone and a DI) on one source pull together, and how far apart they arrive.
//!
//! - **Formula:** averaged cross spectrum of loud blocks (170 ms, Hann, half over each other, decimated to 12 kHz).
//!   Body correlation: the cross correlation within the body band divided by both powers, at the lag of its largest
//!   size within 1.5 ms; its sign is the polarity. Delay: the lag within 10 ms at which the cross correlation with
//!   each bin's size divided out (60 Hz to 4 kHz, weighted with coherence) is largest in that polarity (beyond 1.5 ms:
//!   in size, and its sign is the polarity); parabola between steps of 0.02 ms. Coherence: mean over the bins of three bands
//! - **Unit:** correlation, s, 1 or -1
//! - **Range:** -1 to 1; -0.010 to 0.010 s, positive if the second channel is later
//! - **Source:** Welch 1967 for the averages; Knapp and Carter 1976 for the weighting (both from memory)
//! - **Window:** blocks within 20 dB of the loudest
//! - **No value:** fewer than 20 loud blocks; coherence under 0.3 in the body band
//! - **Misleads when:** the two hear different instruments in unison; the source is a pure tone

use std::f64::consts::TAU;
use std::sync::Arc;

use realfft::num_complex::{Complex, Complex64};
use realfft::{RealFftPlanner, RealToComplex};

use crate::dsp::{Decimator, Frames};
use crate::unit::Unmeasured;

/// Rate that the channels are decimated to, at most a quarter more.
const LOW_RATE_HZ: u32 = 12_000;

/// Highest frequency used, in Hz.
const HIGH_HZ: f64 = 4000.0;

/// Lowest frequency used, in Hz.
const LOW_HZ: f64 = 60.0;

/// Samples in a block, and new ones in each, at the low rate.
const BLOCK: usize = 2048;
const HOP: usize = 1024;

/// Blocks are gathered by level, 3 dB a class, from 0 dBFS down.
const CLASSES: usize = 24;

/// Classes below the loudest that count: 20 dB.
const LOUD_CLASSES: usize = 7;

/// Fewest blocks in the loudest class, so that one knock doesn't set the reference; fewest blocks altogether.
const FEWEST_LOUDEST: u32 = 3;
const FEWEST: u32 = 20;

/// Coherence that the body band must have.
const LEAST_COHERENCE: f64 = 0.3;

/// Lags searched for the body correlation and for the delay, in seconds, and their step.
const BODY_LAG_S: f64 = 0.0015;
const DELAY_LAG_S: f64 = 0.010;
const STEP_S: f64 = 2e-5;

/// Bands whose coherence is told, in Hz.
const BANDS_HZ: [[f64; 2]; 3] = [[60.0, 250.0], [250.0, 1000.0], [1000.0, 4000.0]];

/// What two channels on one source say about each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SameSource {
    /// Correlation in the body band, at the best lag within 1.5 ms.
    pub body_correlation: f64,
    /// Arrival in the second minus arrival in the first, in seconds.
    pub delay_s: f64,
    /// 1, or -1 if one is inverted.
    pub polarity: f64,
    /// Coherence in 60-250 Hz, 250-1000 Hz and 1-4 kHz, 0 to 1.
    pub coherence: [f64; 3],
}

/// Averages of blocks of one level class.
#[derive(Clone, Debug)]
struct Class {
    n_blocks: u32,
    first: Vec<f64>,
    second: Vec<f64>,
    cross: Vec<Complex64>,
}

/// Measures one declared pair.
pub struct SameSourceMeter {
    bin_hz: f64,
    body_hz: [f64; 2],
    fft: Arc<dyn RealToComplex<f32>>,
    shape: Vec<f32>,
    scratch: Vec<f32>,
    bins: [Vec<Complex<f32>>; 2],
    decimators: [Decimator; 2],
    waiting: [Vec<f32>; 2],
    pairs: Frames,
    interleaved: Vec<f32>,
    classes: Vec<Option<Class>>,
}

impl SameSourceMeter {
    /// A meter for a pair at `rate_hz` with the body of its source between two frequencies.
    ///
    /// # Panics
    ///
    /// If the band is empty or doesn't lie within 60 Hz to 4 kHz.
    pub fn new(rate_hz: u32, body_hz: [f64; 2]) -> Self {
        let is_inside = LOW_HZ <= body_hz[0] && body_hz[0] < body_hz[1] && body_hz[1] <= HIGH_HZ;
        assert!(is_inside, "the body lies within {LOW_HZ} to {HIGH_HZ} Hz, found {body_hz:?}");
        let factor = (rate_hz / LOW_RATE_HZ).max(1);
        let low_rate_hz = f64::from(rate_hz) / f64::from(factor);
        let pass_hz = HIGH_HZ.min(0.4 * low_rate_hz);
        let decimator = Decimator::new(f64::from(rate_hz), factor as usize, pass_hz);
        let fft = RealFftPlanner::new().plan_fft_forward(BLOCK);
        Self {
            bin_hz: low_rate_hz / 2048.0,
            body_hz,
            shape: hann(),
            scratch: vec![0.0; BLOCK],
            bins: [fft.make_output_vec(), fft.make_output_vec()],
            fft,
            decimators: [decimator.clone(), decimator],
            waiting: [Vec::new(), Vec::new()],
            // Both channels in turn, so that one frame holds the same moment of both.
            pairs: Frames::new(2 * (BLOCK - HOP), 2 * HOP),
            interleaved: Vec::new(),
            classes: vec![None; CLASSES],
        }
    }

    /// Takes a block of both channels.
    ///
    /// # Panics
    ///
    /// If the channels differ in length.
    pub fn push(&mut self, first: &[f32], second: &[f32]) {
        assert_eq!(first.len(), second.len(), "the channels are equally long");
        for (idx, samples) in [first, second].into_iter().enumerate() {
            self.waiting[idx].clear();
            self.decimators[idx].push(samples, &mut self.waiting[idx]);
        }
        self.interleaved.clear();
        let both = self.waiting[0].iter().zip(&self.waiting[1]);
        self.interleaved.extend(both.flat_map(|(&first, &second)| [first, second]));
        let mut pairs = std::mem::replace(&mut self.pairs, Frames::new(0, 1));
        let interleaved = std::mem::take(&mut self.interleaved);
        pairs.push(&interleaved, |_, frame| self.block(frame));
        (self.pairs, self.interleaved) = (pairs, interleaved);
    }

    fn block(&mut self, frame: &[f32]) {
        let Some(class) = class_of(frame) else { return };
        for (idx, bins) in self.bins.iter_mut().enumerate() {
            let samples = frame.iter().skip(idx).step_by(2).zip(&self.shape);
            let scaled = samples.map(|(x, shape)| x * shape);
            self.scratch.iter_mut().zip(scaled).for_each(|(slot, x)| *slot = x);
            // Lengths are those of the plan, so that the transform can't fail.
            let done = self.fft.process(&mut self.scratch, bins);
            debug_assert!(done.is_ok(), "the buffers have the plan's lengths");
        }
        let n_bins = self.bins[0].len();
        let gathered = self.classes[class].get_or_insert_with(|| Class::new(n_bins));
        gathered.add(&self.bins);
    }

    /// What the pair says.
    ///
    /// # Errors
    ///
    /// [`Unmeasured::TooFewEvents`] below 20 loud blocks; [`Unmeasured::Because`] where the two hear different things.
    pub fn finish(self) -> Result<SameSource, Unmeasured> {
        let loudest = self
            .classes
            .iter()
            .position(|class| class.as_ref().is_some_and(|class| class.n_blocks >= FEWEST_LOUDEST))
            .unwrap_or(0);
        let mut sum: Option<Class> = None;
        for class in self.classes[..(loudest + LOUD_CLASSES).min(CLASSES)].iter().flatten() {
            match &mut sum {
                Some(sum) => sum.join(class),
                None => sum = Some(class.clone()),
            }
        }
        let n_blocks = sum.as_ref().map_or(0, |sum| sum.n_blocks);
        let Some(sum) = sum.filter(|sum| sum.n_blocks >= FEWEST) else {
            return Err(Unmeasured::TooFewEvents {
                have: n_blocks as usize,
                need: FEWEST as usize,
            });
        };
        let spectra = Spectra { bin_hz: self.bin_hz, sum };
        if spectra.coherence(self.body_hz) < LEAST_COHERENCE {
            return Err(Unmeasured::Because("the two channels hear different things"));
        }
        let body_correlation = spectra.body_correlation(self.body_hz);
        let (delay_s, polarity) = spectra.arrival(body_correlation.signum());
        Ok(SameSource {
            body_correlation,
            delay_s,
            polarity,
            coherence: BANDS_HZ.map(|band_hz| spectra.coherence(band_hz)),
        })
    }
}

impl Class {
    fn new(n_bins: usize) -> Self {
        let zeros = || vec![0.0; n_bins];
        let cross = vec![Complex64::default(); n_bins];
        Self { n_blocks: 0, first: zeros(), second: zeros(), cross }
    }

    fn add(&mut self, bins: &[Vec<Complex<f32>>; 2]) {
        self.n_blocks += 1;
        for (bin, (first, second)) in bins[0].iter().zip(&bins[1]).enumerate() {
            let [first, second] = [first, second]
                .map(|value| Complex64::new(f64::from(value.re), f64::from(value.im)));
            self.first[bin] += first.norm_sqr();
            self.second[bin] += second.norm_sqr();
            self.cross[bin] += first.conj() * second;
        }
    }

    fn join(&mut self, other: &Self) {
        self.n_blocks += other.n_blocks;
        self.first.iter_mut().zip(&other.first).for_each(|(sum, x)| *sum += x);
        self.second.iter_mut().zip(&other.second).for_each(|(sum, x)| *sum += x);
        self.cross.iter_mut().zip(&other.cross).for_each(|(sum, x)| *sum += x);
    }
}

struct Spectra {
    bin_hz: f64,
    sum: Class,
}

impl Spectra {
    #[expect(clippy::cast_precision_loss, reason = "bin numbers are small")]
    fn bins(&self, [low_hz, high_hz]: [f64; 2]) -> impl Iterator<Item = (usize, f64)> + '_ {
        let bins = (0..self.sum.cross.len()).map(|bin| (bin, bin as f64 * self.bin_hz));
        bins.filter(move |(_, hz)| (low_hz..=high_hz).contains(hz))
    }

    fn coherence_of(&self, bin: usize) -> f64 {
        let power = self.sum.first[bin] * self.sum.second[bin];
        self.sum.cross[bin].norm_sqr() / power.max(1e-60)
    }

    /// Mean coherence of a band, less what independent channels show by chance.
    fn coherence(&self, band_hz: [f64; 2]) -> f64 {
        // Half overlapped Hann blocks are worth about half their number (Welch 1967).
        let by_chance = 2.0 / f64::from(self.sum.n_blocks);
        let (mut sum, mut n_bins) = (0.0, 0.0f64);
        for (bin, _) in self.bins(band_hz) {
            sum += self.coherence_of(bin);
            n_bins += 1.0;
        }
        ((sum / n_bins.max(1.0) - by_chance) / (1.0 - by_chance)).clamp(0.0, 1.0)
    }

    /// Value of the correlation of largest size in the body band.
    fn body_correlation(&self, band_hz: [f64; 2]) -> f64 {
        let terms: Vec<(f64, Complex64)> =
            self.bins(band_hz).map(|(bin, hz)| (hz, self.sum.cross[bin])).collect();
        let power = |of: &[f64]| self.bins(band_hz).map(|(bin, _)| of[bin]).sum::<f64>();
        let scale = (power(&self.sum.first) * power(&self.sum.second)).sqrt().max(1e-60);
        let (_, value) = largest(&terms, BODY_LAG_S, f64::abs);
        (value / scale).clamp(-1.0, 1.0)
    }

    /// Lag of the whitened correlation, and polarity: the body's if it lies within the body's lags, else its own.
    fn arrival(&self, body_polarity: f64) -> (f64, f64) {
        let terms: Vec<(f64, Complex64)> = self
            .bins([LOW_HZ, HIGH_HZ])
            .map(|(bin, hz)| {
                let cross = self.sum.cross[bin];
                (hz, cross / cross.norm().max(1e-60) * self.coherence_of(bin))
            })
            .collect();
        let (lag_s, value) = largest(&terms, DELAY_LAG_S, f64::abs);
        if lag_s.abs() > BODY_LAG_S {
            return (lag_s, value.signum());
        }
        (largest(&terms, DELAY_LAG_S, |value| body_polarity * value).0, body_polarity)
    }
}

/// Lag (parabola) and value at the step where the rated correlation is largest.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "there are some hundreds of lags"
)]
fn largest(terms: &[(f64, Complex64)], longest_s: f64, rate: impl Fn(f64) -> f64) -> (f64, f64) {
    let n_steps = (longest_s / STEP_S).round();
    let lags: Vec<f64> =
        (0..=2 * n_steps as u32).map(|step| (f64::from(step) - n_steps) * STEP_S).collect();
    let value_at = |lag_s: f64| -> f64 {
        let turned = |&(hz, cross): &(f64, Complex64)| {
            (cross * Complex64::from_polar(1.0, TAU * hz * lag_s)).re
        };
        terms.iter().map(turned).sum()
    };
    let values: Vec<f64> = lags.iter().map(|&lag_s| value_at(lag_s)).collect();
    let best = (0..lags.len())
        .max_by(|&a, &b| rate(values[a]).total_cmp(&rate(values[b])).then(b.cmp(&a)))
        .unwrap_or(0);
    let at = |idx: usize| rate(values[idx]);
    if best == 0 || best + 1 == lags.len() {
        return (lags[best], values[best]);
    }
    let bend = at(best - 1) - 2.0 * at(best) + at(best + 1);
    let shift = if bend < 0.0 { 0.5 * (at(best - 1) - at(best + 1)) / bend } else { 0.0 };
    (lags[best] + shift * STEP_S, values[best])
}

/// Level class of a block by the weaker of its channels' powers; `None` for silence.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss,
    reason = "a class is a small positive number"
)]
fn class_of(frame: &[f32]) -> Option<usize> {
    let power = frame.iter().map(|&x| f64::from(x).powi(2)).sum::<f64>() / frame.len() as f64;
    let below_db = -10.0 * power.max(1e-30).log10();
    let class = (below_db / 3.0).max(0.0) as usize;
    (class < CLASSES).then_some(class)
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_precision_loss,
    reason = "a block has some thousands of samples, stored as f32"
)]
fn hann() -> Vec<f32> {
    let angle = |n: usize| std::f64::consts::PI * n as f64 / BLOCK as f64;
    (0..BLOCK).map(|n| angle(n).sin().powi(2) as f32).collect()
}
