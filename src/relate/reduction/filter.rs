//! The static filter between two taps, and the gain that moves.
//!
//! Takes aligned taps, gives the raw one through equaliser and latency, and both taps' products in blocks of 2 ms. Tries
//! filters from the simplest on, and takes a richer one only where it explains clearly more: a free filter would learn the
//! gain that repeats with every stroke of a drum.

use std::sync::Arc;

use realfft::num_complex::Complex64;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};

use super::trace::{residual_db, trace_db};
use crate::dsp::window::hann;

/// Blocks in a second.
pub(super) const BLOCKS_PER_S: u32 = 500;

/// Samples in a frame at 48 kHz, and new ones in each.
const FRAME: usize = 16_384;
const HOP: usize = FRAME / 2;

/// Part of the impulse response that is kept, in seconds, and the fade at its end.
const BEFORE_S: f64 = 0.010;
const BEHIND_S: f64 = 0.120;
const FADE_S: f64 = 0.020;

/// Gain of the first round is smoothed over this many blocks: a wrong filter must not be read as fast gain.
const SLOW_BLOCKS: usize = 51;

/// Residual at which the simple filters are good enough, in dB, and by how much a richer one must be better.
const GOOD_DB: f64 = -38.0;
const BETTER_DB: f64 = 3.0;

/// Most rounds of each kind of filter.
const ROUNDS: [usize; 3] = [2, 3, 6];

/// A round that changes the residual by less ends the rounds, in dB.
const SETTLED_DB: f64 = 0.15;

/// How a filter is made from the spectra.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// Gain and delay.
    Flat,
    /// Smooth and of minimum phase, and a delay.
    Smooth,
    /// The same with what its phases leave over, smoothed.
    Fine,
}

/// What is known of the way from one tap to the other.
pub(super) struct Way<'a> {
    pub(super) kind: Kind,
    /// The raw tap through the static filter.
    pub(super) filtered: Vec<f64>,
    /// Products of the processed tap with it, and its own energy, in blocks.
    pub(super) both: Vec<f64>,
    pub(super) own: Vec<f64>,
    /// The processed tap.
    pub(super) processed: &'a [f32],
    /// Power of the processed tap that they leave over.
    pub(super) residual_db: f64,
}

impl<'a> Way<'a> {
    /// The simplest way that explains the processed tap.
    pub(super) fn find(raw: &'a [f32], processed: &'a [f32], polarity: f64, rate_hz: u32) -> Self {
        let finder = Finder::new(raw, processed, polarity, rate_hz);
        let mut tries = vec![finder.follow(Kind::Flat), finder.follow(Kind::Smooth)];
        let is_good = |one: &Try| one.residual_db <= GOOD_DB;
        if !tries.iter().any(is_good) {
            tries.push(finder.follow(Kind::Fine));
        }
        let best_db = tries.iter().map(|one| one.residual_db).fold(f64::INFINITY, f64::min);
        let simplest = tries.iter().position(|one| one.residual_db <= best_db + BETTER_DB);
        let Try { kind, filter, both, own, residual_db } = tries.swap_remove(simplest.unwrap_or(0));
        Self { kind, filtered: finder.apply(&filter), both, own, processed, residual_db }
    }
}

/// A kind of filter that was tried. The signal through it takes 20 MB and is made anew once it is chosen.
struct Try {
    kind: Kind,
    filter: Vec<Complex64>,
    both: Vec<f64>,
    own: Vec<f64>,
    residual_db: f64,
}

struct Finder<'a> {
    raw: &'a [f32],
    processed: &'a [f32],
    polarity: f64,
    rate_hz: f64,
    block: usize,
    forward: Arc<dyn RealToComplex<f64>>,
    inverse: Arc<dyn ComplexToReal<f64>>,
    window: Vec<f64>,
}

/// Spectra of a pair: transfer function and what it is worth, bin by bin.
struct Transfer {
    values: Vec<Complex64>,
    weights: Vec<f64>,
}

impl<'a> Finder<'a> {
    fn new(raw: &'a [f32], processed: &'a [f32], polarity: f64, rate_hz: u32) -> Self {
        let mut planner = RealFftPlanner::<f64>::new();
        Self {
            raw,
            processed,
            polarity,
            rate_hz: f64::from(rate_hz),
            block: (rate_hz / BLOCKS_PER_S).max(1) as usize,
            forward: planner.plan_fft_forward(FRAME),
            inverse: planner.plan_fft_inverse(FRAME),
            window: (0..FRAME).map(|place| hann(place, FRAME)).collect(),
        }
    }

    /// Rounds of gain and filter.
    fn follow(&self, kind: Kind) -> Try {
        let mut filter = vec![Complex64::new(self.polarity, 0.0); FRAME / 2 + 1];
        let mut filtered: Vec<f64> =
            self.raw.iter().map(|&x| f64::from(x) * self.polarity).collect();
        let other = self.products(self.processed, self.processed);
        let mut last_db = f64::INFINITY;
        let mut round = 0;
        loop {
            let both = self.products(self.processed, &filtered);
            let own = self.products(&filtered, &filtered);
            let residual_db = residual_db(&both, &own, &other);
            let is_last = round == ROUNDS[kind as usize];
            if is_last || round > 2 && (last_db - residual_db).abs() < SETTLED_DB {
                return Try { kind, filter, both, own, residual_db };
            }
            last_db = residual_db;
            drop(filtered);
            let moved = self.moved(&both, &own, if round == 0 { SLOW_BLOCKS } else { 3 });
            let transfer = self.transfer(&moved);
            drop(moved);
            filter = self.filter(kind, &transfer);
            filtered = self.apply(&filter);
            round += 1;
        }
    }

    fn products<A, B>(&self, a: &[A], b: &[B]) -> Vec<f64>
    where
        A: Copy + Into<f64>,
        B: Copy + Into<f64>,
    {
        let blocks = a.chunks_exact(self.block).zip(b.chunks_exact(self.block));
        let product = |(&a, &b): (&A, &B)| a.into() * b.into();
        blocks.map(|(a, b)| a.iter().zip(b).map(product).sum()).collect()
    }

    /// The raw tap turned up and down as the processed one is, by a gain with a median of 1.
    #[expect(clippy::cast_precision_loss, reason = "places in seconds of samples")]
    fn moved(&self, both: &[f64], own: &[f64], n_smooth: usize) -> Vec<f64> {
        let gains_db = trace_db(both, own, n_smooth);
        let mut sorted = gains_db.clone();
        sorted.sort_by(f64::total_cmp);
        let middle_db = sorted.get(sorted.len() / 2).copied().unwrap_or(0.0);
        let gains: Vec<f64> =
            gains_db.iter().map(|db| 10_f64.powf((db - middle_db) / 20.0)).collect();
        let last = gains.len().saturating_sub(1);
        let moved = |(at, &x): (usize, &f32)| {
            let place = (at as f64 / self.block as f64 - 0.5).clamp(0.0, last as f64);
            let (before, part) = (at_floor(place), place.fract());
            f64::from(x) * (gains[before] * (1.0 - part) + gains[(before + 1).min(last)] * part)
        };
        self.raw.iter().enumerate().map(moved).collect()
    }

    /// Transfer function from the moved raw tap; loud frames don't rule.
    #[expect(clippy::cast_precision_loss, reason = "places in a frame")]
    fn transfer(&self, moved: &[f64]) -> Transfer {
        let n_bins = FRAME / 2 + 1;
        let (mut own, mut other) = (vec![0.0; n_bins], vec![0.0; n_bins]);
        let mut cross = vec![Complex64::default(); n_bins];
        let mut scratch = self.forward.make_input_vec();
        let mut spectrum = |samples: &mut dyn Iterator<Item = f64>| {
            let shaped = samples.zip(&self.window).map(|(x, window)| x * window);
            scratch.iter_mut().zip(shaped).for_each(|(slot, x)| *slot = x);
            let mut bins = self.forward.make_output_vec();
            self.forward.process(&mut scratch, &mut bins).expect("the buffers have the lengths");
            bins
        };
        let last = moved.len().saturating_sub(FRAME);
        for from in (0..=last).step_by(HOP).filter(|from| from + FRAME <= moved.len()) {
            let frame = from..from + FRAME;
            let a = spectrum(&mut moved[frame.clone()].iter().copied());
            let b = spectrum(&mut self.processed[frame].iter().map(|&x| f64::from(x)));
            let power = a.iter().map(|value| value.norm_sqr()).sum::<f64>() / n_bins as f64;
            let weight = 1.0 / (power.sqrt() + 1e-6);
            for bin in 0..n_bins {
                own[bin] += weight * a[bin].norm_sqr();
                other[bin] += weight * b[bin].norm_sqr();
                cross[bin] += weight * a[bin].conj() * b[bin];
            }
        }
        let floor = 1e-9 * own.iter().copied().fold(1e-30, f64::max);
        let weight = |bin: usize| {
            let coherence =
                (cross[bin].norm_sqr() / (own[bin] * other[bin] + 1e-30)).clamp(0.0, 0.9999);
            let hz = bin as f64 * self.rate_hz / FRAME as f64;
            let is_sure = coherence > 0.5 && hz >= 20.0;
            if is_sure { (coherence / (1.0 - coherence)).min(1e3) } else { 0.0 }
        };
        Transfer {
            weights: (0..n_bins).map(weight).collect(),
            values: cross.iter().zip(&own).map(|(cross, own)| cross / (own + floor)).collect(),
        }
    }

    fn filter(&self, kind: Kind, transfer: &Transfer) -> Vec<Complex64> {
        let shape = match kind {
            Kind::Flat => self.flat(transfer),
            Kind::Smooth | Kind::Fine => self.smooth(transfer),
        };
        let mut filter = turned(transfer, &shape);
        if kind == Kind::Fine {
            refine(&mut filter, transfer);
            refine(&mut filter, transfer);
        }
        filter
    }

    fn flat(&self, transfer: &Transfer) -> Vec<Complex64> {
        let sure = transfer.values.iter().zip(&transfer.weights).filter(|(_, w)| **w > 9.0);
        let mut gains: Vec<f64> = sure.map(|(value, _)| value.norm()).collect();
        gains.sort_by(f64::total_cmp);
        let gain = gains.get(gains.len() / 2).copied().unwrap_or(1.0);
        vec![Complex64::new(gain, 0.0); self.window.len() / 2 + 1]
    }

    /// Sizes averaged in sixths of an octave, in dB, with the phase that goes with them.
    #[expect(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "bins of a frame"
    )]
    fn smooth(&self, transfer: &Transfer) -> Vec<Complex64> {
        const N_POINTS: usize = 180;
        let Transfer { values, weights } = transfer;
        let n_bins = values.len();
        let bin_hz = self.rate_hz / FRAME as f64;
        let (low, high) = (20f64.ln(), (0.46 * self.rate_hz).ln());
        let half = (1.0f64 / 12.0).exp2();
        let place = |point: usize| low + (high - low) * point as f64 / (N_POINTS - 1) as f64;
        let mut known: Vec<(f64, f64)> = Vec::new();
        for point in 0..N_POINTS {
            let hz = place(point).exp();
            let from = ((hz / half / bin_hz).ceil() as usize).min(n_bins - 2);
            let to = ((hz * half / bin_hz).ceil() as usize).clamp(from + 2, n_bins);
            let weight: f64 = weights[from..to].iter().sum();
            if weight > 1.5 {
                let both = weights[from..to].iter().zip(&values[from..to]);
                let sum: f64 = both.map(|(w, value)| w * value.norm().max(1e-9).ln()).sum();
                known.push((place(point), sum / weight));
            }
        }
        if known.len() < 5 {
            return vec![Complex64::new(1.0, 0.0); n_bins];
        }
        let mut next = 0;
        let logs = (0..n_bins).map(|bin| {
            let at = (bin as f64 * bin_hz).max(1.0).ln();
            while next < known.len() && known[next].0 < at {
                next += 1;
            }
            let (after, before) = (known[next.min(known.len() - 1)], known[next.max(1) - 1]);
            let width = after.0 - before.0;
            let part = if width > 0.0 { ((at - before.0) / width).clamp(0.0, 1.0) } else { 0.0 };
            before.1 + part * (after.1 - before.1)
        });
        self.minimum_phase(&logs.collect::<Vec<f64>>())
    }

    /// The spectrum of minimum phase that has these sizes (by its cepstrum; Oppenheim & Schafer, chapter 13).
    #[expect(clippy::cast_precision_loss, reason = "a length of a frame")]
    fn minimum_phase(&self, logs: &[f64]) -> Vec<Complex64> {
        let mut bins: Vec<Complex64> = logs.iter().map(|&log| Complex64::new(log, 0.0)).collect();
        let mut cepstrum = self.inverse.make_output_vec();
        self.inverse.process(&mut bins, &mut cepstrum).expect("the ends are real");
        let n = FRAME as f64;
        for (at, x) in cepstrum.iter_mut().enumerate() {
            *x *= match at {
                0 => 1.0 / n,
                at if at < FRAME / 2 => 2.0 / n,
                at if at == FRAME / 2 => 1.0 / n,
                _ => 0.0,
            };
        }
        let mut folded = self.forward.make_output_vec();
        self.forward.process(&mut cepstrum, &mut folded).expect("the buffers have the lengths");
        folded.into_iter().map(Complex64::exp).collect()
    }

    /// The raw tap through a filter whose response is faded out.
    #[expect(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "places in a frame"
    )]
    fn apply(&self, filter: &[Complex64]) -> Vec<f64> {
        let in_samples = |time_s: f64| (time_s * self.rate_hz) as usize;
        let (before, behind) = (in_samples(BEFORE_S), in_samples(BEHIND_S).min(FRAME / 2));
        let fade = in_samples(FADE_S);
        let mut bins = filter.to_vec();
        let last = bins.len() - 1;
        (bins[0].im, bins[last].im) = (0.0, 0.0);
        let mut response = self.inverse.make_output_vec();
        self.inverse.process(&mut bins, &mut response).expect("the ends are real");
        let fading = |at: usize| {
            let into = (at + fade).saturating_sub(behind) as f64 / fade.max(1) as f64;
            0.5 * (1.0 + (std::f64::consts::PI * into).cos()) / FRAME as f64
        };
        let taps: Vec<f64> = (0..before)
            .map(|at| response[FRAME - before + at] / FRAME as f64)
            .chain((0..behind).map(|at| response[at] * fading(at)))
            .collect();
        overlap_save(self.raw, &taps, before)
    }
}

/// A long signal through taps of which the one at `centre` is the present.
#[expect(clippy::cast_precision_loss, reason = "a length of a transform")]
fn overlap_save(signal: &[f32], taps: &[f64], centre: usize) -> Vec<f64> {
    let n = (4 * taps.len()).next_power_of_two();
    let mut planner = RealFftPlanner::<f64>::new();
    let (forward, inverse) = (planner.plan_fft_forward(n), planner.plan_fft_inverse(n));
    let spectrum = |block: &mut Vec<f64>| {
        let mut bins = forward.make_output_vec();
        forward.process(block, &mut bins).expect("the buffers have the lengths");
        bins
    };
    let mut padded = taps.to_vec();
    padded.resize(n, 0.0);
    let filter = spectrum(&mut padded);
    let hop = n - taps.len() + 1;
    let mut out = Vec::with_capacity(signal.len() + hop);
    while out.len() < signal.len() {
        // Output `m` needs the input from `m + centre - (taps - 1)` to `m + centre`.
        let end = out.len() + centre + hop;
        let mut block = vec![0.0; n];
        for (slot, at) in block.iter_mut().rev().zip((0..end).rev()) {
            *slot = signal.get(at).map_or(0.0, |&x| f64::from(x));
        }
        let mut bins = spectrum(&mut block);
        bins.iter_mut().zip(&filter).for_each(|(bin, tap)| *bin *= tap / n as f64);
        let last = bins.len() - 1;
        (bins[0].im, bins[last].im) = (0.0, 0.0);
        inverse.process(&mut bins, &mut block).expect("the ends are real");
        out.extend_from_slice(&block[n - hop..]);
    }
    out.truncate(signal.len());
    out
}

/// A shape with the delay, of at most six samples, and the sign that suit the transfer function best.
#[expect(clippy::cast_precision_loss, reason = "bins of a frame")]
fn turned(transfer: &Transfer, shape: &[Complex64]) -> Vec<Complex64> {
    let n = 2.0 * (shape.len() - 1) as f64;
    let phases: Vec<Complex64> = transfer
        .values
        .iter()
        .zip(&transfer.weights)
        .zip(shape)
        .map(|((value, weight), shape)| {
            let product = value * shape.conj();
            product / product.norm().max(1e-12) * weight.sqrt() * value.norm()
        })
        .collect();
    let agreement = |delay: f64| {
        let step = Complex64::cis(std::f64::consts::TAU * delay / n);
        let mut pointer = Complex64::new(1.0, 0.0);
        let mut sum = 0.0;
        for phase in &phases {
            sum += (phase * pointer).re;
            pointer *= step;
        }
        sum
    };
    let delays = (-120..=120).map(|place| 0.05 * f64::from(place));
    let (delay, sum) = delays
        .map(|delay| (delay, agreement(delay)))
        .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))
        .unwrap_or((0.0, 1.0));
    let turn = |bin: usize| Complex64::cis(-std::f64::consts::TAU * delay * bin as f64 / n);
    shape.iter().enumerate().map(|(bin, value)| value * turn(bin) * sum.signum()).collect()
}

/// Multiplies a filter by what the transfer function has over it, averaged in quarters of an octave.
#[expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "bins of a frame"
)]
fn refine(filter: &mut [Complex64], transfer: &Transfer) {
    let (mut weights, mut ratios) = (vec![0.0], vec![Complex64::default()]);
    for ((filter, value), weight) in filter.iter().zip(&transfer.values).zip(&transfer.weights) {
        let ratio = if filter.norm() > 1e-6 { value / filter } else { value / 1e-6 };
        let ratio = if ratio.norm() > 4.0 { ratio / ratio.norm() * 4.0 } else { ratio };
        weights.push(weights[weights.len() - 1] + weight);
        ratios.push(ratios[ratios.len() - 1] + weight * ratio);
    }
    let half = (1.0f64 / 8.0).exp2();
    let last = filter.len();
    for (bin, value) in filter.iter_mut().enumerate() {
        let low = ((bin as f64 / half) as usize).min(bin.saturating_sub(2));
        let high = ((bin as f64 * half) as usize).max(bin + 3).min(last);
        let weight = weights[high] - weights[low];
        *value *= (ratios[high] - ratios[low] + 1e-3) / (weight + 1e-3);
    }
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a place of a block")]
fn at_floor(place: f64) -> usize {
    place as usize
}
