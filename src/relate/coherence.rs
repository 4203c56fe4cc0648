//! # Coherence of two channels
//!
//! How much of what two channels carry is one signal, whatever its delay and tone in each.
//!
//! - **Formula:** Welch spectra `S11`, `S22`, `S12` over frames of 4096 samples, half overlapped (Hann; at 48 kHz); per bin
//!   `c = |S12|^2 / (S11 S22)`; without its bias: `(c - b) / (1 - b)` with `b = (19/18) sum P1 P2 / (sum P1 sum P2)`
//!   over the powers of the frames, which is 1 over their number if they are equally loud; figure: mean of the bins weighted by
//!   `S11 / sum S11 + S22 / sum S22`, at least 0, in 40 Hz to 16 kHz and in 300 Hz to 3 kHz
//! - **Unit:** share of power
//! - **Range:** 0 (strangers) to 1 (one signal); with noise in one of them SNR/(1 + SNR)
//! - **Source:** P. D. Welch, IEEE Trans. Audio Electroacoust. AU-15, 1967; G. C. Carter, C. H. Knapp, A. H. Nuttall, IEEE Trans.
//!   Audio Electroacoust. AU-21(4), 1973 (coherence and its bias); overlap: neighbouring Hann frames correlate by 1/6
//! - **Window:** all frames that are given; loud ones weigh by their power
//! - **No value:** less than 3 s, a silent channel, or a bias above 0.25 (fewer than four loud moments) in half of the power
//! - **Misleads when:** the delay is not short against a frame (85 ms), or a room makes many of one signal: both read too low

use std::ops::Range;

use rayon::prelude::*;
use realfft::num_complex::Complex;

use super::arrival::{N_BANDS, band_edges_hz, hop};
use super::cutter::Cutter;
use super::taper::{Taper, Workspace};
use crate::unit::Unmeasured;

/// Hops in a frame.
const HOPS_PER_FRAME: usize = 2;

/// Most bins of a third-octave that are kept: below 900 Hz all. Four times fewer, and the mean moves by its sampling only.
const MOST_BINS: usize = 20;

/// Band in which voices carry their words and blend, in Hz (common practice).
const VOICE_HZ: [f64; 2] = [300.0, 3_000.0];

/// Least time, in seconds.
const NEEDS_S: f64 = 3.0;

/// How much less two frames that overlap by half tell than two that don't: `1 + 2 (1/6)^2`, the square of their correlation
/// counted on both sides.
const OVERLAP: f64 = 19.0 / 18.0;

/// Largest bias of a bin that counts: with less than four moments in which both sound, chance alone makes them coherent.
const MOST_BIAS: f64 = 0.25;

/// Least share of the power that must lie in such bins.
const NEEDS_SHARE: f64 = 0.5;

/// How coherent two channels are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Coherence {
    /// From 40 Hz to 16 kHz, 0 to 1.
    pub full: f64,
    /// From 300 Hz to 3 kHz, 0 to 1.
    pub voice_band: f64,
}

/// Measures how coherent many pairs are. It keeps 12 kB a pair and 0.4 MB a channel.
pub struct CoherenceMeter {
    rate_hz: f64,
    hop: usize,
    cutter: Cutter,
    bins: Vec<Bin>,
    taper: Taper,
    channels: Vec<Channel>,
    pairs: Vec<Pair>,
    n_frames: usize,
}

/// A bin that is kept.
#[derive(Clone, Copy, Debug)]
struct Bin {
    place: usize,
    /// Bins that it stands for.
    weight: f64,
    is_voice: bool,
}

/// A channel's frames that are full, and its power so far.
#[derive(Default)]
struct Channel {
    values: Vec<Complex<f32>>,
    power: Vec<f64>,
    workspace: Workspace,
}

struct Pair {
    first: usize,
    second: usize,
    cross: Vec<Complex<f64>>,
    /// Sums of the products of powers.
    both: Vec<f64>,
}

impl CoherenceMeter {
    /// A meter for pairs out of `n_channels` channels of one rate.
    ///
    /// # Panics
    ///
    /// If a pair names a channel that is not there.
    pub fn new(rate_hz: u32, n_channels: usize, pairs: &[(usize, usize)]) -> Self {
        let is_there = |&(first, second): &(usize, usize)| first.max(second) < n_channels;
        assert!(pairs.iter().all(is_there), "pairs name channels of the session");
        let hop = hop(rate_hz);
        let frame = HOPS_PER_FRAME * hop;
        let bins = bins(f64::from(rate_hz), frame);
        let channels = pairs.iter().flat_map(|&(first, second)| [first, second]).collect();
        let cutter = Cutter::new(frame, hop, channels);
        let pairs = pairs.iter().map(|&(first, second)| Pair {
            first: cutter.place(first),
            second: cutter.place(second),
            cross: vec![Complex::default(); bins.len()],
            both: vec![0.0; bins.len()],
        });
        let pairs = pairs.collect();
        let channel = || Channel { power: vec![0.0; bins.len()], ..Channel::default() };
        Self {
            rate_hz: f64::from(rate_hz),
            hop,
            channels: (0..cutter.n_kept()).map(|_| channel()).collect(),
            cutter,
            bins,
            taper: Taper::new(frame),
            pairs,
            n_frames: 0,
        }
    }

    /// Takes the next samples of all channels of the session.
    ///
    /// # Panics
    ///
    /// If planes differ in length, or a channel of a pair has none.
    pub fn push(&mut self, planes: &[&[f32]]) {
        let Self { cutter, bins, taper, channels, pairs, n_frames, .. } = self;
        cutter.push(planes, |cutter| {
            channels.par_iter_mut().enumerate().for_each(|(place, channel)| {
                channel.values.clear();
                for idx in 0..cutter.n_frames() {
                    let spectrum = taper.spectrum(cutter.frame(place, idx), &mut channel.workspace);
                    for (bin, power) in bins.iter().zip(&mut channel.power) {
                        let value = spectrum[bin.place];
                        *power += f64::from(value.norm_sqr());
                        channel.values.push(value);
                    }
                }
            });
            let values = |place: usize| channels[place].values.chunks_exact(bins.len());
            pairs.par_iter_mut().for_each(|pair| {
                for (first, second) in values(pair.first).zip(values(pair.second)) {
                    pair.add(first, second);
                }
            });
            *n_frames += cutter.n_frames();
        });
    }

    /// Ends a stretch: the next block begins elsewhere, and no frame spans the gap.
    pub fn gap(&mut self) {
        self.cutter.jump(0);
    }

    /// The coherences, pair by pair, each with the reason if there is none.
    #[expect(clippy::cast_precision_loss, reason = "a count of samples is far below 2^52")]
    pub fn finish(self) -> Vec<Result<Coherence, Unmeasured>> {
        let have_s = (self.n_frames * self.hop) as f64 / self.rate_hz;
        let of_pair = |pair: &Pair| {
            if have_s < NEEDS_S {
                return Err(Unmeasured::TooShort { have_s, need_s: NEEDS_S });
            }
            let powers = [pair.first, pair.second].map(|place| &self.channels[place].power[..]);
            let mean = |only_voice: bool| mean(&self.bins, pair, powers, only_voice);
            Ok(Coherence { full: mean(false)?, voice_band: mean(true)? })
        };
        self.pairs.iter().map(of_pair).collect()
    }
}

impl Pair {
    fn add(&mut self, first: &[Complex<f32>], second: &[Complex<f32>]) {
        let sums = self.cross.iter_mut().zip(&mut self.both);
        for ((cross, both), (&first, &second)) in sums.zip(first.iter().zip(second)) {
            let turn = second * first.conj();
            let turn = Complex::new(f64::from(turn.re), f64::from(turn.im));
            *cross += turn;
            // The product of the powers is the power of the product.
            *both += turn.norm_sqr();
        }
    }
}

/// Mean of the bins, weighted by their share of each channel's power.
fn mean(
    bins: &[Bin],
    pair: &Pair,
    powers: [&[f64]; 2],
    only_voice: bool,
) -> Result<f64, Unmeasured> {
    let counts = |bin: &Bin| bin.is_voice || !only_voice;
    let totals = powers.map(|power| {
        bins.iter().zip(power).filter(|(bin, _)| counts(bin)).map(|(bin, p)| bin.weight * p).sum()
    });
    let [first_total, second_total]: [f64; 2] = totals;
    if first_total <= 0.0 || second_total <= 0.0 {
        return Err(Unmeasured::Silent);
    }
    let (mut sum, mut counted) = (0.0, 0.0);
    for (idx, bin) in bins.iter().enumerate().filter(|(_, bin)| counts(bin)) {
        let (first, second) = (powers[0][idx], powers[1][idx]);
        if first <= 0.0 || second <= 0.0 {
            continue;
        }
        let raw = pair.cross[idx].norm_sqr() / (first * second);
        let bias = OVERLAP * pair.both[idx] / (first * second);
        if bias <= MOST_BIAS {
            let weight = bin.weight * 0.5 * (first / first_total + second / second_total);
            sum += weight * (raw - bias) / (1.0 - bias);
            counted += weight;
        }
    }
    if counted < NEEDS_SHARE {
        return Err(Unmeasured::Because("too few moments in which both channels sound"));
    }
    Ok((sum / counted).clamp(0.0, 1.0))
}

/// The bins that are kept: evenly spread over each third-octave.
#[expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "bins of a frame"
)]
fn bins(rate_hz: f64, frame: usize) -> Vec<Bin> {
    let bin_hz = rate_hz / frame as f64;
    let place = |hz: f64| ((hz / bin_hz).ceil() as usize).min(frame / 2);
    let mut bins = Vec::new();
    for band in 0..N_BANDS {
        let [low, high] = band_edges_hz(band).map(place);
        let of_band: Range<usize> = low..high;
        let n_kept = of_band.len().min(MOST_BINS);
        bins.extend((0..n_kept).map(|nth| {
            let place = low + (2 * nth + 1) * of_band.len() / (2 * n_kept);
            let hz = place as f64 * bin_hz;
            Bin {
                place,
                weight: of_band.len() as f64 / n_kept as f64,
                is_voice: (VOICE_HZ[0]..VOICE_HZ[1]).contains(&hz),
            }
        }));
    }
    bins
}
