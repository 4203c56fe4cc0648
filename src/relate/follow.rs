//! Follows own sources through a whole recording with what was learnt on chosen minutes.
//!
//! Takes blocks of all channels, gives for each gate whether its own source sounds, in frames of 43 ms. Memory: four bytes a
//! frame and gate.

use rayon::prelude::*;
use realfft::num_complex::Complex32;

use super::excess::{Gate, Listener, Moment, Shown, Tails, excess_db};
use super::grid::N_BANDS;
use super::sounding::{self, sounding};
use super::spectrogram::{Thinner, Transform};
use crate::dsp::Square;
use crate::dsp::lanes::{Isa, LANES, add_powers};
use crate::measure::Trace;

/// Frames that a source reaches at least: a second. Its top is not lower than 10 dB under that.
const RARE_FRAMES: usize = 24;
const RARE_DB: f64 = 10.0;

/// Follows gates.
pub struct Follower {
    transform: Transform,
    references: Vec<usize>,
    /// Per kept bin, channel by channel: its part in each source, all real parts and then all imaginary ones.
    demix: Vec<Vec<f32>>,
    gates: Vec<Gate>,
    channels: Vec<(Thinner, Vec<Complex32>)>,
    tails: Tails,
    waiting: Vec<[Shown; 2]>,
    seen: Vec<(Trace, Trace)>,
    n_frames: usize,
}

/// What was followed of a gate.
#[derive(Clone, Debug, PartialEq)]
pub struct Followed {
    /// The channel.
    pub channel: usize,
    /// Whether its own source sounds, frame by frame.
    pub sounds: Vec<bool>,
}

/// Powers of a frame: of the sources by band, and of the gates' channels by band.
struct Frame {
    sources: Vec<f32>,
    mics: Vec<f32>,
}

impl Follower {
    /// A follower at the start of the recording. `demix` is the separation on the transform's grid.
    pub fn new(
        transform: Transform,
        n_channels: usize,
        references: &[usize],
        demix: &[Square],
        gates: Vec<Gate>,
    ) -> Self {
        let grid = transform.grid();
        let hop_s = grid.hop_s();
        Self {
            channels: (0..n_channels).map(|_| (Thinner::new(grid), Vec::new())).collect(),
            tails: Tails::new(references.len(), hop_s),
            waiting: vec![[Shown::default(); 2]; gates.len()],
            seen: gates.iter().map(|_| (Trace::new(hop_s), Trace::new(hop_s))).collect(),
            references: references.to_vec(),
            demix: demix.iter().map(narrow).collect(),
            transform,
            gates,
            n_frames: 0,
        }
    }

    /// From a frame to the next, in seconds.
    pub fn hop_s(&self) -> f64 {
        self.transform.grid().hop_s()
    }

    /// The next samples of all channels.
    ///
    /// # Panics
    ///
    /// If there is not one plane for each channel.
    pub fn push(&mut self, planes: &[&[f32]]) {
        assert_eq!(planes.len(), self.channels.len(), "one plane for each channel");
        let transform = &self.transform;
        let is_followed = |channel: usize| {
            self.references.contains(&channel)
                || self.gates.iter().any(|gate| gate.listener().channel == channel)
        };
        self.channels.par_iter_mut().zip(planes).enumerate().for_each(
            |(channel, ((thinner, bins), plane))| {
                if is_followed(channel) {
                    bins.clear();
                    thinner.push(transform, plane, bins);
                }
            },
        );
        let n_bins = transform.grid().bins().len();
        let n_frames = self
            .references
            .first()
            .map_or(0, |&channel| self.channels[channel].1.len() / n_bins.max(1));
        let frames: Vec<Frame> =
            (0..n_frames).into_par_iter().map(|frame| self.powers(frame)).collect();
        let n = self.references.len();
        let tails = &mut self.tails;
        let moments: Vec<Moment> = frames
            .iter()
            .map(|frame| tails.next(|band, source| frame.sources[band * n + source]))
            .collect();
        self.take(&frames, &moments);
    }

    /// Powers of a frame.
    #[expect(clippy::cast_precision_loss, reason = "a band keeps a few bins")]
    fn powers(&self, frame: usize) -> Frame {
        let grid = self.transform.grid();
        let n_bins = grid.bins().len();
        let n = self.references.len();
        let isa = Isa::best();
        let mut sources = Vec::with_capacity(N_BANDS * n);
        let mut mics = vec![0.0f32; N_BANDS * self.gates.len()];
        let mut heard = vec![[0.0f32; 2]; n];
        for band in 0..N_BANDS {
            let bins = grid.band(band);
            let share = 1.0 / bins.len().max(1) as f32;
            let mut of_band = vec![0.0f32; n.next_multiple_of(LANES)];
            for bin in bins {
                let place = frame * n_bins + bin;
                for (heard, &channel) in heard.iter_mut().zip(&self.references) {
                    let x = self.channels[channel].1[place];
                    *heard = [x.re, x.im];
                }
                add_powers(isa, &self.demix[bin], &heard, share, &mut of_band);
                let of_mics = &mut mics[band * self.gates.len()..(band + 1) * self.gates.len()];
                for (power, gate) in of_mics.iter_mut().zip(&self.gates) {
                    *power += share * self.channels[gate.listener().channel].1[place].norm_sqr();
                }
            }
            sources.extend_from_slice(&of_band[..n]);
        }
        Frame { sources, mics }
    }

    /// Shows the frames to every gate.
    fn take(&mut self, frames: &[Frame], moments: &[Moment]) {
        let n_gates = self.gates.len();
        let n_before = self.n_frames;
        let each = self.gates.par_iter().zip(&mut self.waiting).zip(&mut self.seen).enumerate();
        each.for_each(|(idx, ((gate, waiting), seen))| {
            for (nth, (frame, moment)) in frames.iter().zip(moments).enumerate() {
                let shown = gate.shown(|band| frame.mics[band * n_gates + idx], moment);
                let [before, last] = *waiting;
                if n_before + nth > 0 {
                    // The mean over three frames belongs to the middle one.
                    let from = usize::from(n_before + nth == 1);
                    push(seen, &[before, last, shown][from..], last);
                }
                *waiting = [last, shown];
            }
        });
        self.n_frames += frames.len();
    }

    /// What was followed, gate by gate. Frame `t` has its middle at `(t + 1) hop_s`.
    pub fn finish(mut self) -> Vec<Followed> {
        if self.n_frames > 0 {
            for (idx, [before, last]) in self.waiting.iter().enumerate() {
                push(&mut self.seen[idx], &[*before, *last], *last);
            }
        }
        self.gates
            .par_iter()
            .zip(&self.seen)
            .map(|(gate, (excess, own))| {
                let excess_db: Vec<f64> = excess.levels_in_db(0..excess.len());
                let own: Vec<f64> = own.powers().collect();
                let top = top_power(&own);
                let &Listener { channel, manner, .. } = gate.listener();
                let sounds = sounding(manner, &excess_db, &own, top);
                Followed { channel, sounds }
            })
            .collect()
    }
}

/// The excess over neighbouring frames, and the own power of the middle one.
fn push((excess, own): &mut (Trace, Trace), near: &[Shown], middle: Shown) {
    let at_middle = near.len() / 2;
    let ratio_db = excess_db(near)[at_middle];
    excess.push_power(10f64.powf(ratio_db / 10.0));
    own.push_power(f64::from(middle.own));
}

/// Top of a source's power: that of [`excess`](super::excess), or more for one that sounds seldom.
fn top_power(own: &[f64]) -> f64 {
    let mut powers = own.to_vec();
    let rare = powers.len().checked_sub(RARE_FRAMES).map_or(0.0, |rank| {
        *powers.select_nth_unstable_by(rank, f64::total_cmp).1 * 10f64.powf(-RARE_DB / 10.0)
    });
    sounding::top_power(own).max(rare)
}

/// Channel by channel the real parts of a demixing and then the imaginary ones, each filled up to whole vector registers.
#[expect(clippy::cast_possible_truncation, reason = "spectra are held as f32")]
fn narrow(square: &Square) -> Vec<f32> {
    let n_wide = square.n().next_multiple_of(LANES);
    let mut ways = vec![0.0; 2 * n_wide * square.n()];
    for (channel, parts) in ways.chunks_exact_mut(2 * n_wide).enumerate() {
        let (re, im) = parts.split_at_mut(n_wide);
        for (source, (re, im)) in re.iter_mut().zip(im).take(square.n()).enumerate() {
            let way = square.at(source, channel);
            (*re, *im) = (way.re as f32, way.im as f32);
        }
    }
    ways
}
