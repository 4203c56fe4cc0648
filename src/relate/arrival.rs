//! # Arrival
//!
//! How much later a source arrives at one microphone than at another, and whether upright or inverted.
//!
//! - **Formula:** over frames of 8192 samples, 2048 apart (Hann; at 48 kHz), `S(f) = sum m X2 X1* / |X2 X1*|` and `N(f) = sum m`,
//!   where `m` is 1 in the cells (third-octave, frame) in which the source prevails in both channels, else 0; `r`: inverse
//!   transform of `S / (N + 0.05 max N)` between 60 Hz and 14 kHz; delay: the largest value of `r` in size within 50 ms, four
//!   times interpolated, with a parabola; polarity: its sign; quality: its size re the largest farther than 15 samples from it
//! - **Unit:** s; 1 or -1; ratio
//! - **Range:** -0.05 to 0.05 s, positive: later in the second; quality 1.3 and more
//! - **Source:** C. H. Knapp, G. C. Carter, "The generalized correlation method for estimation of time delay", IEEE Trans.
//!   ASSP 24(4), 1976 (phase transform); tapering windows after Clifford and Reiss, JAES 61(11), 2013
//! - **Window:** the frames whose cells are chosen; each counts the same, however loud
//! - **No value:** fewer than 3 frames with a chosen cell, a silent channel, or a quality below 1.3
//! - **Misleads when:** no cells are chosen and another source rules the treble: its delay is found, sharp and wrong; a low-pass
//!   in one of the channels delays by itself

use std::ops::Range;

use rayon::prelude::*;
use realfft::num_complex::Complex;

use super::cutter::Cutter;
use super::lag::{Correlator, error_s};
use super::taper::{Taper, Workspace};
use crate::unit::Unmeasured;

/// Third-octaves that are told apart: base-two, from 40 Hz to 16 kHz.
pub const N_BANDS: usize = 27;

/// A bit for each of them.
pub const ALL_BANDS: u32 = (1 << N_BANDS) - 1;

/// Third-octaves from the lowest to 1 kHz.
const BANDS_BELOW_1_KHZ: f64 = 14.0;

/// Hops in a frame of the meter, and in one of the mask.
const HOPS_PER_FRAME: usize = 4;

/// Hops from the begin of the meter's frame to that of the mask's frame with the same middle.
const TO_MIDDLE: u64 = 1;

/// Band in which phases count, in Hz.
pub(super) const BAND_HZ: [f64; 2] = [60.0, 14_000.0];

/// Share of the largest count that is added to every count: bins that are rarely chosen weigh little.
const FLOOR: f64 = 0.05;

/// Farthest arrival that is looked for, in seconds: 17 m.
pub(super) const FAR_S: f64 = 0.050;

/// Half width of what belongs to a peak, in seconds: 15 samples at 48 kHz.
pub(super) const NEAR_S: f64 = 15.0 / 48_000.0;

/// Fewest frames with a chosen cell.
const NEEDS_FRAMES: usize = 3;

/// Least quality: wrong peaks stayed below 1.1 in simulated stages, 99 % of the right ones above.
pub(super) const NEEDS_QUALITY: f64 = 1.3;

/// Lower and upper edge of a third-octave of the mask, in Hz.
///
/// # Panics
///
/// If there is no such band.
pub fn band_edges_hz(band: usize) -> [f64; 2] {
    assert!(band < N_BANDS, "there are {N_BANDS} bands, asked for {band}");
    #[expect(clippy::cast_precision_loss, reason = "a band's number is small")]
    let mid_hz = 1_000.0 * ((band as f64 - BANDS_BELOW_1_KHZ) / 3.0).exp2();
    let half = (1.0 / 6.0f64).exp2();
    [mid_hz / half, mid_hz * half]
}

/// Samples from one frame to the next: 2048 at 48 kHz, the nearest power of two for the same time at other rates.
///
/// # Panics
///
/// If the rate is 0.
pub fn hop(rate_hz: u32) -> usize {
    assert!(rate_hz > 0, "a rate is positive");
    let octaves = (f64::from(rate_hz) / 48_000.0).log2().round();
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a small positive number"
    )]
    let hop = (2048.0 * octaves.exp2()) as usize;
    hop.max(1)
}

/// Cells, third-octave by frame, in which a source prevails in both channels of a pair.
///
/// Frame `t` stands for the samples of the session from `t` hops to `t + 2` hops (see [`hop`]). It takes 4 bytes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mask {
    first_frame: u64,
    frames: Vec<u32>,
    /// What holds in all other frames.
    elsewhere: u32,
}

impl Mask {
    /// Every cell: the plain phase transform.
    pub const fn all() -> Self {
        Self { first_frame: 0, frames: Vec::new(), elsewhere: ALL_BANDS }
    }

    /// A set of bits, the lowest band first, for each frame from `first_frame` on; no cell elsewhere.
    pub const fn new(first_frame: u64, frames: Vec<u32>) -> Self {
        Self { first_frame, frames, elsewhere: 0 }
    }

    /// The bands of a frame.
    pub fn bands(&self, frame: u64) -> u32 {
        let place = frame.checked_sub(self.first_frame).and_then(|at| usize::try_from(at).ok());
        place.and_then(|at| self.frames.get(at)).copied().unwrap_or(self.elsewhere)
    }
}

/// How a source arrives at the second channel of a pair, re the first.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Arrival {
    /// Arrival in the second minus arrival in the first, in seconds.
    pub delay_s: f64,
    /// 1 or -1.
    pub polarity: f64,
    /// Size of the peak re the largest value elsewhere.
    pub quality: f64,
    /// Standard error of the delay, by the phases of the bins: large where only low notes arrive.
    pub error_s: f64,
}

/// Measures the arrivals of many pairs. It keeps 38 kB a pair and 0.5 MB a channel.
pub struct ArrivalMeter {
    cutter: Cutter,
    /// Bins that count, and where each band's lie among them.
    bins: Range<usize>,
    bands: Vec<Range<usize>>,
    taper: Taper,
    correlator: Correlator,
    channels: Vec<Channel>,
    pairs: Vec<Pair>,
}

/// A channel's frames that are full, as directions: spectra whose every bin has length 1, or 0 if it is empty.
#[derive(Default)]
struct Channel {
    directions: Vec<Complex<f32>>,
    workspace: Workspace,
}

struct Pair {
    first: usize,
    second: usize,
    mask: Mask,
    sum: Vec<Complex<f64>>,
    /// Frames in which each band is chosen, and in which any is.
    n_in_band: Vec<u32>,
    n_frames: usize,
}

impl ArrivalMeter {
    /// A meter for pairs of channels of one rate, each with the cells that count for it.
    pub fn new(rate_hz: u32, pairs: Vec<(usize, usize, Mask)>) -> Self {
        let hop = hop(rate_hz);
        let frame = HOPS_PER_FRAME * hop;
        let rate = f64::from(rate_hz);
        let bins = bins_within(BAND_HZ, rate, frame);
        let bands = (0..N_BANDS)
            .map(|band| {
                let of_band = bins_within(band_edges_hz(band), rate, frame);
                let place = |bin: usize| bin.clamp(bins.start, bins.end) - bins.start;
                place(of_band.start)..place(of_band.end)
            })
            .collect();
        let channels = pairs.iter().flat_map(|&(first, second, _)| [first, second]).collect();
        let cutter = Cutter::new(frame, hop, channels);
        let pairs = pairs
            .into_iter()
            .map(|(first, second, mask)| Pair {
                first: cutter.place(first),
                second: cutter.place(second),
                mask,
                sum: vec![Complex::default(); bins.len()],
                n_in_band: vec![0; N_BANDS],
                n_frames: 0,
            })
            .collect();
        Self {
            channels: (0..cutter.n_kept()).map(|_| Channel::default()).collect(),
            cutter,
            bins,
            bands,
            taper: Taper::new(frame),
            correlator: Correlator::new(rate, frame),
            pairs,
        }
    }

    /// Takes the next samples of all channels of the session.
    ///
    /// # Panics
    ///
    /// If planes differ in length, or a channel of a pair has none.
    pub fn push(&mut self, planes: &[&[f32]]) {
        let Self { cutter, bins, bands, taper, channels, pairs, .. } = self;
        cutter.push(planes, |cutter| {
            let frames: Vec<u64> =
                (cutter.first_number()..).take(cutter.n_frames()).map(|n| n + TO_MIDDLE).collect();
            // No transform where no pair asks for one: most masks are sparse.
            let mut is_asked = vec![vec![false; frames.len()]; channels.len()];
            for pair in &*pairs {
                for (idx, &frame) in frames.iter().enumerate() {
                    if pair.mask.bands(frame) != 0 {
                        is_asked[pair.first][idx] = true;
                        is_asked[pair.second][idx] = true;
                    }
                }
            }
            let each = channels.par_iter_mut().zip(&is_asked).enumerate();
            each.for_each(|(place, (channel, is_asked))| {
                channel.directions.resize(frames.len() * bins.len(), Complex::default());
                for idx in (0..frames.len()).filter(|&idx| is_asked[idx]) {
                    let spectrum = taper.spectrum(cutter.frame(place, idx), &mut channel.workspace);
                    let directions = &mut channel.directions[idx * bins.len()..][..bins.len()];
                    for (direction, &value) in directions.iter_mut().zip(&spectrum[bins.clone()]) {
                        *direction = direction_of(value);
                    }
                }
            });
            let directions = |place: usize| channels[place].directions.chunks_exact(bins.len());
            pairs.par_iter_mut().for_each(|pair| {
                let both = directions(pair.first).zip(directions(pair.second));
                for (&frame, (first, second)) in frames.iter().zip(both) {
                    pair.add(pair.mask.bands(frame), bands, first, second);
                }
            });
        });
    }

    /// Ends a stretch: the next block begins with the sample `next` of the session, and no frame spans the gap.
    ///
    /// The first block begins with sample 0 unless this says otherwise.
    pub fn gap(&mut self, next: u64) {
        self.cutter.jump(next);
    }

    /// The arrivals, pair by pair, each with the reason if there is none.
    pub fn finish(self) -> Vec<Result<Arrival, Unmeasured>> {
        let Self { bins, bands, correlator, pairs, .. } = self;
        pairs.into_par_iter().map(|pair| pair.finish(&bins, &bands, &correlator)).collect()
    }
}

impl Pair {
    fn add(
        &mut self,
        chosen: u32,
        bands: &[Range<usize>],
        first: &[Complex<f32>],
        second: &[Complex<f32>],
    ) {
        let mut is_any = false;
        for (band, (bins, n)) in bands.iter().zip(&mut self.n_in_band).enumerate() {
            if chosen & (1 << band) == 0 || bins.is_empty() {
                continue;
            }
            is_any = true;
            *n += 1;
            let both = first[bins.clone()].iter().zip(&second[bins.clone()]);
            for (sum, (&first, &second)) in self.sum[bins.clone()].iter_mut().zip(both) {
                let turn = second * first.conj();
                *sum += Complex::new(f64::from(turn.re), f64::from(turn.im));
            }
        }
        self.n_frames += usize::from(is_any);
    }

    fn finish(
        self,
        bins: &Range<usize>,
        bands: &[Range<usize>],
        correlator: &Correlator,
    ) -> Result<Arrival, Unmeasured> {
        if self.n_frames < NEEDS_FRAMES {
            return Err(Unmeasured::TooFewEvents { have: self.n_frames, need: NEEDS_FRAMES });
        }
        if self.sum.iter().all(|sum| sum.norm_sqr() <= 0.0) {
            return Err(Unmeasured::Silent);
        }
        let floor = FLOOR * self.n_in_band.iter().copied().map(f64::from).fold(0.0, f64::max);
        let mut weighted = self.sum;
        for (band, &n) in bands.iter().zip(&self.n_in_band) {
            weighted[band.clone()].iter_mut().for_each(|sum| *sum /= f64::from(n) + floor);
        }
        let lags = correlator.lags(bins.clone(), |bin| weighted[bin - bins.start]);
        let peak = lags.peak(FAR_S);
        let rest = lags.rest(peak, NEAR_S, FAR_S);
        let quality = if rest > 0.0 { peak.value.abs() / rest } else { 0.0 };
        if quality < NEEDS_QUALITY {
            return Err(Unmeasured::Because("no single arrival stands out"));
        }
        let turned = weighted.iter().zip(bins.clone()).map(|(value, bin)| {
            let turn = correlator.turn(bin);
            (turn, value * Complex::cis(turn * peak.at_s))
        });
        let error_s = error_s(turned);
        Ok(Arrival { delay_s: peak.at_s, polarity: peak.value.signum(), quality, error_s })
    }
}

/// A value's direction: length 1, or 0 if it has none.
pub(super) fn direction_of(value: Complex<f32>) -> Complex<f32> {
    let length = value.norm_sqr().sqrt();
    if length > 0.0 { value / length } else { Complex::default() }
}

/// Bins of a frame from the first to the second frequency, the second left out.
#[expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "bins of a frame"
)]
pub(super) fn bins_within([low_hz, high_hz]: [f64; 2], rate_hz: f64, frame: usize) -> Range<usize> {
    let bin = |hz: f64| ((hz * frame as f64 / rate_hz).ceil() as usize).min(frame / 2);
    bin(low_hz)..bin(high_hz)
}
