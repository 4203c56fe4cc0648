//! What a microphone hears of the others, explained from levels alone.
//!
//! Takes the levels of all channels, gives for each microphone the level that spill explains. Two ways:
//!
//! - A source that is heard nearly alone at times has a known coupling to each microphone i: the 10th percentile of
//!   `L_i - L_j` over the frames in which j is loud (within 12 dB of its top) and fewest others are.
//! - Sources that only sound when all do have none: whether i hears them or plays along can't be told from the mean.
//!   But spill moves as its sources move. If a sum of the others with positive weights follows the level of i closely,
//!   i hears only them; if not, i plays along, and each of them is taken to be 15 dB under the top of i.
//!
//! Never lets channels on one source explain each other, nor a kit its overheads.

use rayon::prelude::*;

use crate::dsp::percentile::percentile;
use crate::session::{Family, Role};

use super::activity::{Ends, Source};
use super::frames::Levels;

/// A channel is loud within this of its top, in dB.
const LOUD_DB: f64 = 12.0;

/// Share of the loud frames, taken from those with the fewest other loud channels, that a coupling is read from.
const SPARSEST: f64 = 0.03;

/// Fewest frames that make a coupling: 2 s.
const FEWEST_FRAMES: usize = 20;

/// Most frames that make one, or a fit: more cost time and change nothing.
const MOST_FRAMES: usize = 1500;

/// A source is nearly alone if no more than this many others are loud, in half of its telling frames.
const NEARLY_ALONE: usize = 3;

/// Two couplings against each other that lose less than this, in dB, speak of one source in both.
const ONE_SOURCE_DB: f64 = -6.0;

/// Level of a source whose coupling is unknown in a microphone that plays along, re the tops of both: common practice
/// for a close microphone.
const UNKNOWN_DB: f64 = -15.0;

/// A fit follows the level if nine tenths of its errors lie within this, in dB, and it moves alike.
const TIGHT_DB: f64 = 5.0;
const MOVES_ALIKE: f64 = 0.8;

/// Rounds of a fit, and steps in each.
const ROUNDS: usize = 3;
const STEPS: usize = 30;

/// Frames this far above the fit are the microphone's own, in dB, and left out of the next round.
const OWN_DB: f64 = 5.0;

/// Share of the frames that a fit must keep.
const KEPT: f64 = 0.6;

/// What spill explains of one microphone.
#[derive(Clone, Debug)]
pub(super) struct Explained {
    /// Frame by frame, in dB.
    pub(super) level_db: Vec<f32>,
    /// Whether every coupling was known.
    pub(super) is_known: bool,
}

/// The couplings of a stage.
#[derive(Debug)]
pub(super) struct Spill<'a> {
    levels: &'a Levels,
    sources: &'a [Source],
    ends: &'a [Ends],
    kin: &'a [(usize, usize)],
    coupling: Vec<Vec<Option<f64>>>,
    is_known: Vec<bool>,
}

impl<'a> Spill<'a> {
    /// Couplings from the levels of all channels.
    pub(super) fn new(
        levels: &'a Levels,
        sources: &'a [Source],
        ends: &'a [Ends],
        kin: &'a [(usize, usize)],
    ) -> Self {
        let n_channels = sources.len();
        let mut spill =
            Self { levels, sources, ends, kin, coupling: Vec::new(), is_known: Vec::new() };
        let telling: Vec<(Vec<usize>, bool)> =
            (0..n_channels).into_par_iter().map(|idx| spill.telling_frames(idx)).collect();
        spill.is_known = telling.iter().map(|(_, is_known)| *is_known).collect();
        spill.coupling = (0..n_channels)
            .into_par_iter()
            .map(|mic| {
                (0..n_channels).map(|from| spill.read(mic, from, &telling[from].0)).collect()
            })
            .collect();
        spill.settle();
        spill
    }

    /// What spill explains of a channel; `None` for one that hears none.
    #[expect(clippy::cast_possible_truncation, reason = "levels are held as f32")]
    pub(super) fn explained(&self, mic: usize) -> Option<Explained> {
        if !self.hears(mic) {
            return None;
        }
        let n_frames = self.levels.n_frames();
        let mut sum = vec![0.0f32; n_frames];
        let mut unknown = Vec::new();
        for from in 0..self.sources.len() {
            let Some(coupling_db) = self.coupling[mic][from] else { continue };
            if !self.is_known[from] {
                unknown.push(from);
                continue;
            }
            let gain = 10f64.powf(coupling_db / 10.0) as f32;
            for (sum, power) in sum.iter_mut().zip(self.levels.power(from)) {
                *sum += gain * power;
            }
        }
        if !unknown.is_empty() {
            match self.fit(mic) {
                Some(weights) => sum = self.weighted(&weights),
                None => self.add_unknown(mic, &unknown, &mut sum),
            }
        }
        let level_db = sum.into_iter().map(|power| 10.0 * power.max(1e-22).log10()).collect();
        Some(Explained { level_db, is_known: unknown.is_empty() })
    }

    fn hears(&self, mic: usize) -> bool {
        !self.sources[mic].is_line && self.sources[mic].spills()
    }

    fn counts(&self, channel: usize) -> bool {
        self.sources[channel].spills() && !self.ends[channel].is_dead()
    }

    fn is_loud(&self, channel: usize, frame: usize) -> bool {
        f64::from(self.levels.channel(channel)[frame]) > self.ends[channel].top_db - LOUD_DB
    }

    /// The frames in which a channel is loud, of these the ones in which fewest others are, and whether it is nearly
    /// alone in them.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss,
        reason = "counts of frames are small"
    )]
    fn telling_frames(&self, from: usize) -> (Vec<usize>, bool) {
        if !self.counts(from) {
            return (Vec::new(), false);
        }
        let is_other = |idx: &usize| *idx != from && self.counts(*idx) && !self.is_kin(*idx, from);
        let others: Vec<usize> = (0..self.sources.len()).filter(is_other).collect();
        let loud = (0..self.levels.n_frames()).filter(|&frame| self.is_loud(from, frame));
        let mut counted: Vec<(usize, usize)> = loud
            .map(|frame| (others.iter().filter(|&&idx| self.is_loud(idx, frame)).count(), frame))
            .collect();
        counted.sort_unstable();
        let n_telling = ((SPARSEST * counted.len() as f64) as usize).max(FEWEST_FRAMES);
        counted.truncate(n_telling.min(MOST_FRAMES));
        let is_alone = counted.get(counted.len() / 2).is_some_and(|(n, _)| *n <= NEARLY_ALONE);
        (counted.into_iter().map(|(_, frame)| frame).collect(), is_alone)
    }

    fn is_kin(&self, a: usize, b: usize) -> bool {
        self.kin.contains(&(a, b)) || self.kin.contains(&(b, a))
    }

    /// Whether one channel may hear another at all.
    fn may_hear(&self, mic: usize, from: usize) -> bool {
        mic != from && !self.is_kin(mic, from) && !self.holds(mic, from) && self.hears(mic)
    }

    /// Whether one channel is an overhead and the other a piece of its kit. A piece must not explain its overheads, and
    /// a fit with the overheads would follow the piece by the piece itself.
    fn holds(&self, overhead: usize, piece: usize) -> bool {
        self.sources[overhead].role == Role::Overhead
            && self.sources[piece].role.family() == Family::Drums
    }

    fn read(&self, mic: usize, from: usize, frames: &[usize]) -> Option<f64> {
        if !self.may_hear(mic, from) || frames.len() < FEWEST_FRAMES {
            return None;
        }
        let (heard, source) = (self.levels.channel(mic), self.levels.channel(from));
        let gaps: Vec<f64> =
            frames.iter().map(|&frame| f64::from(heard[frame] - source[frame])).collect();
        percentile(&gaps, 0.10)
    }

    /// One source in two channels belongs to the one that it lifts further out of its floor.
    fn settle(&mut self) {
        for mic in 0..self.sources.len() {
            for from in 0..mic {
                let both = (self.coupling[mic][from], self.coupling[from][mic]);
                let (Some(there), Some(back)) = both else { continue };
                if !self.is_known[mic] || !self.is_known[from] || there + back <= ONE_SOURCE_DB {
                    continue;
                }
                let lift_db = |idx: usize| self.ends[idx].top_db - self.ends[idx].floor_db;
                if lift_db(mic) >= lift_db(from) {
                    self.coupling[mic][from] = None;
                } else {
                    self.coupling[from][mic] = None;
                }
            }
        }
    }

    /// Adds the sources of unknown coupling to a microphone that plays along: the loudest of them counts.
    #[expect(clippy::cast_possible_truncation, reason = "levels are held as f32")]
    fn add_unknown(&self, mic: usize, unknown: &[usize], sum: &mut [f32]) {
        let mut most = vec![0.0f32; sum.len()];
        for &from in unknown {
            let prior_db = self.ends[mic].top_db - self.ends[from].top_db + UNKNOWN_DB;
            let coupling_db = self.coupling[mic][from].map_or(prior_db, |db| db.min(prior_db));
            let gain = 10f64.powf(coupling_db / 10.0) as f32;
            for (most, power) in most.iter_mut().zip(self.levels.power(from)) {
                *most = most.max(gain * power);
            }
        }
        sum.iter_mut().zip(most).for_each(|(sum, most)| *sum += most);
    }

    fn weighted(&self, weights: &[(usize, f32)]) -> Vec<f32> {
        let mut sum = vec![0.0f32; self.levels.n_frames()];
        for &(from, weight) in weights {
            for (sum, power) in sum.iter_mut().zip(self.levels.power(from)) {
                *sum += weight * power;
            }
        }
        sum
    }

    /// Positive weights with which the others follow the level of a microphone closely, if there are such weights.
    ///
    /// Least Kullback-Leibler divergence by multiplicative steps (Lee and Seung, NIPS 2000, from memory).
    fn fit(&self, mic: usize) -> Option<Vec<(usize, f32)>> {
        let is_heard = |from: &usize| {
            self.counts(*from) && self.may_hear(mic, *from) && !self.holds(*from, mic)
        };
        let others: Vec<usize> = (0..self.sources.len()).filter(is_heard).collect();
        let stride = self.levels.n_frames().div_ceil(MOST_FRAMES).max(1);
        let all: Vec<usize> = (0..self.levels.n_frames()).step_by(stride).collect();
        let heard = self.levels.power(mic);
        let mut weights: Vec<(usize, f32)> = others
            .iter()
            .map(|&from| (from, mean(self.levels.power(mic)) / mean(self.levels.power(from))))
            .collect();
        let mut kept = all.clone();
        for _ in 0..ROUNDS {
            for _ in 0..STEPS {
                self.improve(&mut weights, heard, &kept);
            }
            let fitted = self.weighted(&weights);
            let is_spill = |frame: &usize| {
                f64::from(heard[*frame]) <= f64::from(fitted[*frame]) * 10f64.powf(OWN_DB / 10.0)
            };
            kept = all.iter().copied().filter(is_spill).collect();
        }
        let fitted = self.weighted(&weights);
        self.follows(mic, &fitted, &kept, all.len()).then_some(weights)
    }

    /// One multiplicative step.
    fn improve(&self, weights: &mut [(usize, f32)], heard: &[f32], kept: &[usize]) {
        let mut quotient: Vec<f32> = vec![0.0; kept.len()];
        for &(from, weight) in weights.iter() {
            let power = self.levels.power(from);
            quotient.iter_mut().zip(kept).for_each(|(sum, &frame)| *sum += weight * power[frame]);
        }
        for (quotient, &frame) in quotient.iter_mut().zip(kept) {
            *quotient = heard[frame] / quotient.max(1e-20);
        }
        for (from, weight) in weights.iter_mut() {
            let power = self.levels.power(*from);
            let (mut top, mut bottom) = (0.0f32, 1e-20f32);
            for (quotient, &frame) in quotient.iter().zip(kept) {
                top += power[frame] * quotient;
                bottom += power[frame];
            }
            *weight *= top / bottom;
        }
    }

    /// Whether a fit follows the level of a microphone where that is not near its floor.
    #[expect(clippy::cast_precision_loss, reason = "counts of frames are small")]
    fn follows(&self, mic: usize, fitted: &[f32], kept: &[usize], n_all: usize) -> bool {
        let level = self.levels.channel(mic);
        let fitted_db = |frame: usize| 10.0 * f64::from(fitted[frame]).max(1e-20).log10();
        let fits: Vec<f64> = kept.iter().map(|&frame| fitted_db(frame)).collect();
        let Some(top_db) = percentile(&fits, 0.97) else { return false };
        // Near the floor a channel is noise, which nothing explains and nothing must.
        let is_sounding = |frame: &&usize| {
            fitted_db(**frame) > top_db - 15.0
                && f64::from(level[**frame]) > self.ends[mic].floor_db + 3.0
        };
        let frames: Vec<usize> = kept.iter().filter(is_sounding).copied().collect();
        if frames.len() < FEWEST_FRAMES || (kept.len() as f64) < KEPT * n_all as f64 {
            return false;
        }
        let heard: Vec<f64> = frames.iter().map(|&frame| f64::from(level[frame])).collect();
        let fits: Vec<f64> = frames.iter().map(|&frame| fitted_db(frame)).collect();
        let errors: Vec<f64> = heard.iter().zip(&fits).map(|(heard, fit)| heard - fit).collect();
        let ends = [0.05, 0.95].map(|share| percentile(&errors, share).unwrap_or(0.0));
        ends[1] - ends[0] <= TIGHT_DB && correlation(&heard, &fits) >= MOVES_ALIKE
    }
}

#[expect(clippy::cast_precision_loss, reason = "counts of frames are small")]
fn mean(values: &[f32]) -> f32 {
    (values.iter().sum::<f32>() / values.len().max(1) as f32).max(1e-20)
}

#[expect(clippy::cast_precision_loss, reason = "counts of frames are small")]
fn correlation(a: &[f64], b: &[f64]) -> f64 {
    let n = a.len().max(1) as f64;
    let (mean_a, mean_b) = (a.iter().sum::<f64>() / n, b.iter().sum::<f64>() / n);
    let sum = |f: &dyn Fn(f64, f64) -> f64| -> f64 {
        a.iter().zip(b).map(|(a, b)| f(a - mean_a, b - mean_b)).sum()
    };
    let power = (sum(&|a, _| a * a) * sum(&|_, b| b * b)).sqrt();
    sum(&|a, b| a * b) / power.max(1e-20)
}
