//! # Wedges in a microphone
//!
//! What monitor loudspeakers bring into a microphone while its own source rests, told by a source that comes by wire and sounds
//! nowhere on the stage: it reaches the microphone through loudspeakers alone.
//!
//! - **Formula:** frames of 683 ms, half overlapped (Hann; at 48 kHz), from 224 Hz to 4.47 kHz; with the cross-spectra `Spm` and `Spy` of
//!   each such source `p` with a monitor mix and the microphone, bin by bin `A = sum Spm* Spy / Spp` and `B = sum |Spm|^2 / Spp`;
//!   arrival: the lag at which `|sum A exp(2 pi i f t) / sqrt(B Syy)|` is largest; way `H`: over 92 bins (4 ms to either side)
//!   `sum A exp(2 pi i f t) / sum B` there; least level: `sum Smm Re(H1 H2*)` over the ways of two halves of the time, whose chance
//!   parts cancel; greatest level: the same bin by bin, all lags together, plus two standard deviations and 2 dB
//! - **Unit:** power re full scale squared
//! - **Range:** arrivals from 1 to 8 ms; later ones are the loudspeakers of the hall, or another player's
//! - **Source:** a source that reaches both as an instrument: P. G. Wright, The Tariff on Animal and Vegetable Oils, 1928 (from memory).
//!   On simulated stages (0.6 s) both ends held what was planted in each of 14 voices, in the four in which
//!   both were told 3 to 8 dB apart; with loudspeakers for the hall added, 10 dB softer to 10 dB louder, a least level was told in ten
//!   mixtures of 24 and was never more than the wedge's
//! - **Window:** the rests of the microphone's own source
//! - **No value:** the wired source is less than a tenth of the mix in half of its power; no least level where no arrival stands out or
//!   the loudest is no wedge's
//! - **Misleads when:** the wired source has an amplifier on the stage, a loudspeaker for the hall stands within two metres, or a
//!   wedge plays a mix that was not recorded

use std::f64::consts::TAU;
use std::ops::{AddAssign, Range};

use rayon::prelude::*;
use realfft::num_complex::{Complex, Complex64};

use super::cutter::Cutter;
use super::taper::{Taper, Workspace};
use crate::unit::{Span, Unmeasured};

/// Samples in a frame at 48 kHz; a frame begins every half of it.
const BASE_FRAME: f64 = 32_768.0;
const BASE_HZ: f64 = 48_000.0;

/// Edges of the third-octaves from 250 Hz to 4 kHz.
const BAND_HZ: [f64; 2] = [224.0, 4_467.0];

/// Bins over which the way of a single arrival is the same.
const CHUNK: usize = 92;

/// Hops that stay in one half: 4 s, so that neither half holds one song only.
const IN_HALF: u64 = 12;

/// Lags that are looked at, from when a microphone can hear a wedge to when the hall answers, in seconds.
const LAGS_S: [f64; 2] = [-0.020, 0.040];
const LAG_STEP_S: f64 = 0.000_1;

/// Arrivals of a wedge: two metres and the way through the desk, in seconds.
pub const WEDGE_S: [f64; 2] = [0.001, 0.008];

/// Before this no sound arrives: what stands there is chance, in seconds.
const CHANCE_UNTIL_S: f64 = -0.002;

/// An arrival stands so far above chance; planted ones 5.7 times and more, chance itself up to 1.5 times.
const STANDS_OUT: f64 = 3.0;

/// Least share of a mix that the wired sources make, bin by bin, and least share of its power in which they do.
const LEAST_SHARE: f64 = 0.1;
const LEAST_KNOWN: f64 = 0.5;

/// What rings longer than a frame and what chance takes away, as a factor of power: on a simulated stage up to 1 dB was missed.
const RINGS_ON: f64 = 1.6;

/// Least power, so that nothing is divided by 0.
const SILENCE: f64 = 1e-20;

/// A microphone, the mixes and the wired sources.
#[derive(Clone, Debug)]
pub struct Sought {
    /// Channel of the microphone.
    pub mic: usize,
    /// Channels of the monitor mixes.
    pub mixes: Vec<usize>,
    /// Channels of the sources that come by wire.
    pub wired: Vec<usize>,
    /// When the microphone's own source rests, in order.
    pub resting: Vec<Span>,
}

/// What the wedges of a mix bring into a microphone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Brought {
    /// Power that it has at least; `None` where no wedge stands out.
    pub least: Option<f64>,
    /// Power that it has at most.
    pub most: f64,
    /// When the loudest arrives behind the mix, in seconds.
    pub arrival_s: f64,
}

/// Measures what wedges bring into microphones.
pub struct WedgeMeter {
    rate_hz: f64,
    hop: usize,
    cutter: Cutter,
    taper: Taper,
    band: Range<usize>,
    channels: Vec<Heard>,
    looks: Vec<Look>,
}

/// The band's bins of a channel's frames that are full.
#[derive(Default)]
struct Heard {
    values: Vec<Complex<f32>>,
    workspace: Workspace,
}

/// The sums of one microphone.
struct Look {
    sought: Sought,
    halves: [Half; 2],
}

/// Sums over the frames of a half.
#[derive(Clone)]
struct Half {
    mic: Vec<f64>,
    /// By mix.
    mixes: Vec<Vec<f64>>,
    /// By wired source.
    wired: Vec<Vec<f64>>,
    with_mic: Vec<Vec<Complex64>>,
    /// By mix, in each by wired source.
    with_mixes: Vec<Vec<Vec<Complex64>>>,
    n_frames: f64,
}

impl WedgeMeter {
    /// A meter for channels of one rate.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss,
        reason = "frame lengths and bins are small positive numbers"
    )]
    pub fn new(rate_hz: u32, sought: Vec<Sought>) -> Self {
        let rate_hz = f64::from(rate_hz);
        let frame = 1usize << ((BASE_FRAME * rate_hz / BASE_HZ).log2().round() as u32);
        let bin = |hz: f64| (hz * frame as f64 / rate_hz).round() as usize;
        let band = bin(BAND_HZ[0])..bin(BAND_HZ[1]).min(frame / 2);
        let named = |one: &Sought| [vec![one.mic], one.mixes.clone(), one.wired.clone()].concat();
        let cutter = Cutter::new(frame, frame / 2, sought.iter().flat_map(named).collect());
        let look = |sought: Sought| {
            let half = Half::new(&sought, band.len());
            Look { sought, halves: [half.clone(), half] }
        };
        Self {
            rate_hz,
            hop: frame / 2,
            channels: (0..cutter.n_kept()).map(|_| Heard::default()).collect(),
            looks: sought.into_iter().map(look).collect(),
            cutter,
            taper: Taper::new(frame),
            band,
        }
    }

    /// Takes the next block of all channels of the session.
    ///
    /// # Panics
    ///
    /// If planes differ in length, or a channel that is looked at has none.
    pub fn push(&mut self, planes: &[&[f32]]) {
        let Self { cutter, taper, band, channels, looks, rate_hz, hop } = self;
        cutter.push(planes, |cutter| {
            channels.par_iter_mut().enumerate().for_each(|(place, heard)| {
                heard.values.clear();
                for idx in 0..cutter.n_frames() {
                    let spectrum = taper.spectrum(cutter.frame(place, idx), &mut heard.workspace);
                    heard.values.extend_from_slice(&spectrum[band.clone()]);
                }
            });
            let n_bins = band.len();
            let channels = &*channels;
            looks.par_iter_mut().for_each(|look| {
                for idx in 0..cutter.n_frames() {
                    let number = cutter.first_number() + idx as u64;
                    if look.rests(number, *hop, *rate_hz) {
                        let bins = |channel: usize| {
                            let values = &channels[cutter.place(channel)].values;
                            &values[idx * n_bins..(idx + 1) * n_bins]
                        };
                        let half = usize::from(number / IN_HALF % 2 == 1);
                        look.halves[half].add(&look.sought, bins);
                    }
                }
            });
        });
    }

    /// What each mix brings into each microphone, in the order in which they were sought.
    pub fn finish(self) -> Vec<Vec<Result<Brought, Unmeasured>>> {
        let frame = 2 * self.hop;
        let bins = Bins { rate_hz: self.rate_hz, frame, first: self.band.start };
        let of_look = |look: &Look| {
            let all = look.halves[0].and(&look.halves[1]);
            let mixes = 0..look.sought.mixes.len();
            mixes.map(|mix| look.brought(mix, &all, &bins)).collect()
        };
        self.looks.par_iter().map(of_look).collect()
    }
}

/// Where the bins of the band lie.
struct Bins {
    rate_hz: f64,
    frame: usize,
    first: usize,
}

impl Bins {
    /// By how much each bin turns in a second, in radians.
    #[expect(clippy::cast_precision_loss, reason = "bins are small numbers")]
    fn turns(&self, n: usize) -> Vec<f64> {
        let bin_hz = self.rate_hz / self.frame as f64;
        (self.first..self.first + n).map(|bin| TAU * bin as f64 * bin_hz).collect()
    }

    /// From a power of a bin to the mean square that it stands for, behind a raised cosine, whose mean square is 3/8.
    #[expect(clippy::cast_precision_loss, reason = "a frame is a small number")]
    fn scale(&self) -> f64 {
        2.0 / (0.375 * (self.frame as f64).powi(2))
    }
}

impl Half {
    fn new(sought: &Sought, n_bins: usize) -> Self {
        let (powers, products) = (vec![0.0; n_bins], vec![Complex64::default(); n_bins]);
        Self {
            mic: powers.clone(),
            mixes: vec![powers.clone(); sought.mixes.len()],
            wired: vec![powers; sought.wired.len()],
            with_mic: vec![products.clone(); sought.wired.len()],
            with_mixes: vec![vec![products; sought.wired.len()]; sought.mixes.len()],
            n_frames: 0.0,
        }
    }

    /// Adds a frame.
    fn add<'a>(&mut self, sought: &Sought, bins: impl Fn(usize) -> &'a [Complex<f32>]) {
        self.n_frames += 1.0;
        add_powers(&mut self.mic, bins(sought.mic));
        for (sum, &mix) in self.mixes.iter_mut().zip(&sought.mixes) {
            add_powers(sum, bins(mix));
        }
        for (idx, &wired) in sought.wired.iter().enumerate() {
            let wired = bins(wired);
            add_powers(&mut self.wired[idx], wired);
            add_products(&mut self.with_mic[idx], wired, bins(sought.mic));
            for (sums, &mix) in self.with_mixes.iter_mut().zip(&sought.mixes) {
                add_products(&mut sums[idx], wired, bins(mix));
            }
        }
    }

    /// The way of a mix into the microphone.
    fn way(&self, mix: usize) -> Way {
        let n_bins = self.mic.len();
        let (mut over, mut under) = (vec![Complex64::default(); n_bins], vec![SILENCE; n_bins]);
        for (idx, power) in self.wired.iter().enumerate() {
            for bin in 0..n_bins {
                let with_mix = self.with_mixes[mix][idx][bin];
                let power = power[bin] + SILENCE;
                over[bin] += with_mix.conj() * self.with_mic[idx][bin] / power;
                under[bin] += with_mix.norm_sqr() / power;
            }
        }
        Way { over, under, mix: self.mixes[mix].clone() }
    }

    /// Both halves together.
    fn and(&self, other: &Self) -> Self {
        let mut sum = self.clone();
        add(&mut sum.mic, &other.mic);
        sum.mixes.iter_mut().zip(&other.mixes).for_each(|(sum, more)| add(sum, more));
        sum.wired.iter_mut().zip(&other.wired).for_each(|(sum, more)| add(sum, more));
        sum.with_mic.iter_mut().zip(&other.with_mic).for_each(|(sum, more)| add(sum, more));
        for (sums, more) in sum.with_mixes.iter_mut().zip(&other.with_mixes) {
            sums.iter_mut().zip(more).for_each(|(sum, more)| add(sum, more));
        }
        sum.n_frames += other.n_frames;
        sum
    }
}

impl Look {
    /// Whether the own source rests in all of a frame.
    #[expect(clippy::cast_precision_loss, reason = "a frame's number is far below 2^52")]
    fn rests(&self, number: u64, hop: usize, rate_hz: f64) -> bool {
        let hop_s = hop as f64 / rate_hz;
        let (from_s, to_s) = (number as f64 * hop_s, (number as f64 + 2.0) * hop_s);
        let next = self.sought.resting.partition_point(|span| span.end_s < to_s);
        self.sought.resting.get(next).is_some_and(|span| span.start_s <= from_s)
    }

    /// What the wedges of a mix bring; `all` are both halves together.
    fn brought(&self, mix: usize, all: &Half, bins: &Bins) -> Result<Brought, Unmeasured> {
        let way = all.way(mix);
        let turns = bins.turns(way.mix.len());
        let (arrival_s, stands_out) = arrival(&way, &all.mic, &turns);
        let halves = self.halves.each_ref().map(|half| half.way(mix));
        let scale = bins.scale() / all.n_frames;
        let level = |lag_s: f64, chunk: usize| {
            let level = level(&halves, &turns, lag_s, chunk);
            level.map(|level| level.map(|power| scale * power)).ok_or(Unmeasured::Because(
                "no source that comes by wire alone is loud enough in the monitor mixes",
            ))
        };
        let [most, spread] = level(0.0, 1)?;
        let [least, chance] = level(arrival_s, CHUNK)?;
        let is_wedge = stands_out >= STANDS_OUT
            && (WEDGE_S[0]..=WEDGE_S[1]).contains(&arrival_s)
            && least > chance;
        let most = RINGS_ON * (most.max(0.0) + 2.0 * spread);
        let least = is_wedge.then_some(least);
        Ok(Brought { least, most: most.max(least.unwrap_or(0.0)), arrival_s })
    }
}

fn add<T: AddAssign + Copy>(sum: &mut [T], more: &[T]) {
    sum.iter_mut().zip(more).for_each(|(sum, &more)| *sum += more);
}

fn add_powers(sum: &mut [f64], bins: &[Complex<f32>]) {
    sum.iter_mut().zip(bins).for_each(|(sum, bin)| *sum += f64::from(bin.norm_sqr()));
}

/// Adds the products of the first's conjugates with the second.
fn add_products(sum: &mut [Complex64], first: &[Complex<f32>], second: &[Complex<f32>]) {
    for ((sum, first), second) in sum.iter_mut().zip(first).zip(second) {
        let product = first.conj() * second;
        *sum += Complex64::new(f64::from(product.re), f64::from(product.im));
    }
}

/// Sums of a mix's way into a microphone: `A`, `B` and the power of the mix, bin by bin.
struct Way {
    over: Vec<Complex64>,
    under: Vec<f64>,
    mix: Vec<f64>,
}

/// The lag of the largest arrival, and how far it stands above chance.
fn arrival(way: &Way, mic: &[f64], turns: &[f64]) -> (f64, f64) {
    let powers = way.under.iter().zip(mic);
    let mut turning: Vec<Complex64> = way
        .over
        .iter()
        .zip(powers)
        .zip(turns)
        .map(|((over, (under, mic)), turn)| {
            over / (under * mic + SILENCE * SILENCE).sqrt() * Complex64::cis(turn * LAGS_S[0])
        })
        .collect();
    let steps: Vec<Complex64> =
        turns.iter().map(|turn| Complex64::cis(turn * LAG_STEP_S)).collect();
    let (mut best, mut chance) = ((0.0, 0.0), SILENCE);
    let mut lag_s = LAGS_S[0];
    while lag_s <= LAGS_S[1] {
        let size = turning.iter().sum::<Complex64>().norm();
        if size > best.1 {
            best = (lag_s, size);
        }
        if lag_s < CHANCE_UNTIL_S {
            chance = f64::max(chance, size);
        }
        turning.iter_mut().zip(&steps).for_each(|(x, step)| *x *= step);
        lag_s += LAG_STEP_S;
    }
    (best.0, best.1 / chance)
}

/// Power that a mix has behind the ways of both halves at a lag, each way the same over `chunk` bins, and the standard deviation of that
/// power. Where the wired sources are too soft in the mix the way is taken to be that of the other bins; `None` if that is most of it.
fn level(halves: &[Way; 2], turns: &[f64], lag_s: f64, chunk: usize) -> Option<[f64; 2]> {
    let (mut sum, mut squares, mut known, mut all) = (0.0, 0.0, 0.0, 0.0);
    for first in (0..turns.len()).step_by(chunk) {
        let bins = first..(first + chunk).min(turns.len());
        let [one, other] = halves.each_ref().map(|way| {
            let over = way.over[bins.clone()].iter().zip(&turns[bins.clone()]);
            let over: Complex64 = over.map(|(x, turn)| x * Complex64::cis(turn * lag_s)).sum();
            let under: f64 = way.under[bins.clone()].iter().sum();
            let mix: f64 = way.mix[bins.clone()].iter().sum();
            (over / under, mix, under > LEAST_SHARE * mix + SILENCE)
        });
        let mix = one.1 + other.1;
        all += mix;
        if one.2 && other.2 {
            known += mix;
            sum += mix * (one.0 * other.0.conj()).re;
            squares += (mix * (one.0 - other.0).norm_sqr() / 4.0).powi(2);
        }
    }
    let factor = all / known;
    (known > LEAST_KNOWN * all).then(|| [factor * sum, factor * squares.sqrt()])
}
