//! Finds the compressor that gives a measured trace of gain.
//!
//! Takes the way between two taps, gives design, settings and what they leave over. Search: a coarse grid, then simplexes
//! (J. A. Nelder, R. Mead, Computer Journal 7, 1965), first over few designs, then closer over the best ones.

use std::f64::consts::LN_10;
use std::ops::Range;

use rayon::prelude::*;

use super::filter::{Kind, Way};
use super::model::{Ballistics, Design, Detector, Runner, Settings, levels_dbfs};
use super::simplex::{nelder_mead, weighted_median};
use super::trace::trace_db;
use crate::dsp::percentile::percentile;

/// Stretch that is searched in, and one that is polished in, in seconds.
const SEARCH_S: f64 = 4.0;
const POLISH_S: f64 = 7.0;

/// Parts of a block in which gain is taken as constant.
const PARTS: usize = 8;

/// Misfit from which on it counts less, in dB, and by how much.
const FAR_DB: f64 = 2.0;
const FAR_SLOPE: f64 = 0.3;

/// Blocks this far under the loudest do not count, as power.
const LOWEST: f64 = 1e-4;

/// Time constants of mean squares that are tried, in seconds, coarsely and finely.
const COARSE_RMS_S: [f64; 2] = [0.006, 0.020];
const FINE_RMS: [f64; 2] = [0.6, 1.7];

/// What a knee costs, in dB of misfit a dB: of two fits alike the harder knee is taken.
const KNEE_COST: f64 = 0.0005;

/// A compressor that fits.
#[derive(Clone, Copy, Debug)]
pub(super) struct Fit {
    pub(super) design: Design,
    pub(super) settings: Settings,
    /// Mean misfit, in dB.
    pub(super) loss_db: f64,
    /// Static gain that goes with it, in dB.
    pub(super) offset_db: f64,
}

/// The measured side of a fit.
pub(super) struct Measured<'a> {
    rate_hz: f64,
    block: usize,
    /// The raw tap as a detector may hear it: before and behind the static filter.
    chains: [Vec<f64>; 2],
    /// Energies of the parts of blocks.
    parts: Vec<f64>,
    own: &'a [f64],
    gain_db: Vec<f64>,
    weights: Vec<f64>,
    offset_db: Option<f64>,
    is_flat: bool,
    cache: Vec<(Detector, bool, Range<usize>, Vec<f32>)>,
}

/// Threshold in dBFS, and logarithms of ratio - 1, attack and release; the knee stands plain.
type Point = [f64; 5];

impl<'a> Measured<'a> {
    #[expect(clippy::cast_precision_loss, reason = "samples of a block")]
    pub(super) fn new(raw: &[f32], way: &'a Way<'_>, block: usize, rate_hz: u32) -> Self {
        let plain: Vec<f64> = raw.iter().map(|&x| f64::from(x)).collect();
        let energy = |samples: &[f64]| samples.iter().map(|x| x * x).sum::<f64>();
        let gain = (energy(&way.filtered) / energy(&plain).max(1e-30)).sqrt().max(1e-9);
        let behind = way.filtered.iter().map(|x| x / gain).collect();
        let part = block.div_ceil(PARTS);
        let parts = way.filtered.chunks_exact(block).flat_map(|block| {
            let mut parts = [0.0; PARTS];
            for (sum, part) in parts.iter_mut().zip(block.chunks(part)) {
                *sum = energy(part);
            }
            parts
        });
        let around: Vec<f64> = {
            let n = 11;
            let sums = smoothed_evenly(&way.own, n);
            sums.iter().map(|sum| sum / n as f64).collect()
        };
        let loud = around.iter().copied().fold(0.0, f64::max);
        let weight = |(own, around): (&f64, &f64)| {
            if *around > LOWEST * loud { own / (own + 0.2 * around + 1e-20) } else { 0.0 }
        };
        Self {
            rate_hz: f64::from(rate_hz),
            block,
            parts: parts.collect(),
            weights: way.own.iter().zip(&around).map(weight).collect(),
            gain_db: trace_db(&way.both, &way.own, 1),
            own: &way.own,
            chains: [plain, behind],
            offset_db: None,
            is_flat: way.kind == Kind::Flat,
            cache: Vec::new(),
        }
    }

    /// The best compressor, and others that come near; the static gain is known or free.
    pub(super) fn fit(&mut self, offset_db: Option<f64>) -> Vec<Fit> {
        self.offset_db = offset_db;
        let near = self.busiest(SEARCH_S);
        let design =
            |detector, ballistics, is_filtered| Design { detector, ballistics, is_filtered };
        let [short, long] = COARSE_RMS_S.map(Detector::Rms);
        let designs = [Detector::Peak, short, long]
            .map(|detector| design(detector, Ballistics::Branching, true));
        let mut found = self.searched(&designs, &near);
        by_loss(&mut found);
        if !self.is_flat {
            let best = found[0].2;
            found.extend(self.searched(&[Design { is_filtered: false, ..best }], &near));
            by_loss(&mut found);
        }
        let (_, point, best) = found[0];
        let other = found.iter().find(|f| f.2.detector != best.detector).map_or(best, |f| f.2);
        let tries = [
            (best, Ballistics::Decoupled),
            (other, Ballistics::Decoupled),
            (best, Ballistics::FeedBack),
        ]
        .map(|(of, ballistics)| {
            (Design { ballistics, is_filtered: best.is_filtered, ..of }, point)
        });
        found.extend(self.simplexes(&tries, 1.0, 90, &near));
        by_loss(&mut found);
        self.polish(&found)
    }

    /// Closer fits of the best designs, the best one first.
    fn polish(&mut self, found: &[(f64, Point, Design)]) -> Vec<Fit> {
        let wide = self.busiest(POLISH_S);
        let least = found[0].0;
        let near_best = found.iter().take(2).filter(|f| f.0 < 1.8 * least + 0.03);
        let tries: Vec<(Design, Point)> = near_best
            .flat_map(|&(_, point, design)| {
                let softer = [point[0] + 2.0, point[1], 8.0, point[3], point[4]];
                [(design, point), (design, softer)]
            })
            .collect();
        let mut closer = self.simplexes(&tries, 0.6, 90, &wide);
        by_loss(&mut closer);
        for factor in FINE_RMS {
            let (_, point, design) = closer[0];
            if let Detector::Rms(time_s) = design.detector {
                let design = Design { detector: Detector::Rms(factor * time_s), ..design };
                closer.extend(self.simplexes(&[(design, point)], 0.4, 70, &wide));
                by_loss(&mut closer);
            }
        }
        let (_, point, design) = closer[0];
        closer.extend(self.simplexes(&[(design, point)], 0.3, 120, &wide));
        by_loss(&mut closer);
        let fit = |(loss_db, point, design): (f64, Point, Design)| Fit {
            design,
            settings: settings(&point),
            loss_db,
            offset_db: self.loss(&design, &point, &wide).1,
        };
        closer.iter().take(4).copied().map(fit).collect::<Vec<Fit>>()
    }

    /// Misfit with another attack, the rest as it is, in dB.
    pub(super) fn loss_with_attack(&mut self, fit: &Fit, attack_s: f64) -> f64 {
        let point = point(&Settings { attack_s, ..fit.settings });
        let near = self.busiest(SEARCH_S);
        self.simplex_fixed(&fit.design, point, &near)
    }

    /// How far the static gain that goes with a fit differs from stretch to stretch, in dB, whether or not it is known; 0 where one
    /// stretch is all there is.
    pub(super) fn wander_db(&mut self, fit: &Fit) -> f64 {
        let known = self.offset_db.take();
        // A fader may move outside the stretch that the fit has seen.
        let wide = self.busiest(POLISH_S).len().min(self.own.len() / 4).max(1);
        let starts = (0..self.own.len() / wide).map(|idx| idx * wide);
        let stretches = starts.map(|start| start..start + wide).filter(|stretch| {
            let heard = self.weights[stretch.clone()].iter().filter(|&&weight| weight > 0.3);
            4 * heard.count() >= wide
        });
        let offsets_db =
            stretches.map(|near| self.loss(&fit.design, &point(&fit.settings), &near).1);
        let (low, high) = offsets_db.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), db| {
            (low.min(db), high.max(db))
        });
        self.offset_db = known;
        (high - low).max(0.0)
    }

    fn simplex_fixed(&mut self, design: &Design, point: Point, near: &Range<usize>) -> f64 {
        self.ready(design, near);
        let objective = |free: &[f64; 3]| {
            let moved = [free[0], free[1], point[2], point[3], free[2]];
            self.loss(design, &moved, near).0
        };
        nelder_mead([point[0], point[1], point[4]], [1.0, 0.2, 0.2], 40, objective).0
    }

    /// For each design the best point of a grid, made better; side by side.
    fn searched(&mut self, designs: &[Design], near: &Range<usize>) -> Vec<(f64, Point, Design)> {
        designs.iter().for_each(|design| self.ready(design, near));
        designs.par_iter().map(|design| self.search(*design, near)).collect()
    }

    /// Simplexes from some designs and points on; side by side.
    fn simplexes(
        &mut self,
        tries: &[(Design, Point)],
        size: f64,
        most: usize,
        near: &Range<usize>,
    ) -> Vec<(f64, Point, Design)> {
        tries.iter().for_each(|(design, _)| self.ready(design, near));
        let simplex = |&(design, point)| self.simplex(design, point, size, most, near);
        tries.par_iter().map(simplex).collect()
    }

    fn search(&self, design: Design, near: &Range<usize>) -> (f64, Point, Design) {
        let quarter = near.start..near.start + near.len() / 2;
        let levels = self.levels(&design, &quarter);
        let mut best = (f64::INFINITY, [0.0; 5]);
        for share in [0.25, 0.5, 0.75, 0.92] {
            let threshold = self.level_share(near, share) + 2.0;
            for ratio in [2.0f64, 5.0] {
                for attack_s in [0.002f64, 0.02] {
                    for release_s in [0.05f64, 0.3] {
                        let point =
                            [threshold, (ratio - 1.0).ln(), 2.0, attack_s.ln(), release_s.ln()];
                        let loss = self.loss_of(&levels, &design, &point, &quarter).0;
                        if loss < best.0 {
                            best = (loss, point);
                        }
                    }
                }
            }
        }
        self.simplex(design, best.1, 1.0, 80, near)
    }

    fn simplex(
        &self,
        design: Design,
        point: Point,
        size: f64,
        most: usize,
        near: &Range<usize>,
    ) -> (f64, Point, Design) {
        let steps = [3.0, 0.6, 3.0, 0.7, 0.6].map(|step| size * step);
        let objective = |point: &Point| self.loss(&design, point, near).0;
        let (loss, point) = nelder_mead(point, steps, most, objective);
        (loss, point, design)
    }

    /// Keeps the levels of a detector, which many evaluations share.
    fn ready(&mut self, design: &Design, near: &Range<usize>) {
        if self.cached(design, near).is_none() {
            let levels = self.levels(design, near);
            self.cache.push((design.detector, design.is_filtered, near.clone(), levels));
        }
    }

    fn cached(&self, design: &Design, near: &Range<usize>) -> Option<&[f32]> {
        let is_it =
            |(detector, is_filtered, range, _): &&(Detector, bool, Range<usize>, Vec<f32>)| {
                *detector == design.detector && *is_filtered == design.is_filtered && range == near
            };
        self.cache.iter().find(is_it).map(|(.., levels)| &levels[..])
    }

    fn levels(&self, design: &Design, near: &Range<usize>) -> Vec<f32> {
        let chain = &self.chains[usize::from(design.is_filtered)];
        let samples = &chain[near.start * self.block..near.end * self.block];
        levels_dbfs(samples, design.detector, self.rate_hz)
    }

    fn loss(&self, design: &Design, point: &Point, near: &Range<usize>) -> (f64, f64) {
        match self.cached(design, near) {
            Some(levels) => self.loss_of(levels, design, point, near),
            None => self.loss_of(&self.levels(design, near), design, point, near),
        }
    }

    /// Weighted mean misfit, and the static gain.
    fn loss_of(
        &self,
        levels: &[f32],
        design: &Design,
        point: &Point,
        near: &Range<usize>,
    ) -> (f64, f64) {
        let modelled = self.model(levels, design, &settings(point), near);
        // A quarter of a second for the model to come to rest.
        let settle = if near.start > 0 { (modelled.len() / 4).min(125) } else { 0 };
        let pairs: Vec<(f64, f64)> = self.gain_db[near.clone()]
            .iter()
            .zip(&modelled)
            .zip(&self.weights[near.clone()])
            .skip(settle)
            .map(|((gain_db, reduction_db), weight)| (gain_db + reduction_db, *weight))
            .collect();
        let offset_db = self.offset_db.unwrap_or_else(|| weighted_median(&pairs));
        let total: f64 = pairs.iter().map(|pair| pair.1).sum();
        let cost = |(db, weight): &(f64, f64)| {
            let off = (db - offset_db).abs();
            weight * if off < FAR_DB { off } else { FAR_DB + FAR_SLOPE * (off - FAR_DB) }
        };
        let misfit = pairs.iter().map(cost).sum::<f64>() / total.max(1e-30);
        let knee_db = settings(point).knee_db;
        let beyond = (knee_db - 12.0).max(0.0) + (point[1].abs() - 3.0).max(0.0);
        (misfit + KNEE_COST * knee_db + 0.02 * beyond, offset_db)
    }

    /// Gain reduction in blocks as the measurement would see it, in dB.
    #[expect(clippy::cast_precision_loss, reason = "samples of a block")]
    fn model(
        &self,
        levels: &[f32],
        design: &Design,
        settings: &Settings,
        near: &Range<usize>,
    ) -> Vec<f64> {
        let part = self.block.div_ceil(PARTS);
        let mut runner = Runner::new(settings, design.ballistics, self.rate_hz);
        let energies = self.parts[near.start * PARTS..near.end * PARTS].chunks_exact(PARTS);
        let each = levels.chunks_exact(self.block).zip(energies);
        each.map(|(levels, energies)| {
            let (mut gains, mut total) = (0.0, 0.0);
            for (levels, energy) in levels.chunks(part).zip(energies) {
                let sum_db: f64 = levels.iter().map(|&level| runner.step(level)).sum();
                gains += energy * (-sum_db / levels.len() as f64 * LN_10 / 20.0).exp();
                total += energy;
            }
            if total > 0.0 { -20.0 * (gains / total).max(1e-6).log10() } else { 0.0 }
        })
        .collect()
    }

    /// Blocks of a stretch in which gain moves most.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss,
        reason = "blocks are few"
    )]
    fn busiest(&self, time_s: f64) -> Range<usize> {
        let n = self.own.len();
        let wanted = ((time_s * self.rate_hz / self.block as f64) as usize).min(n);
        let moves = |at: usize| {
            let is_heard = self.weights[at].min(self.weights[at - 1]) > 0.3;
            if is_heard { (self.gain_db[at] - self.gain_db[at - 1]).abs().min(3.0) } else { 0.0 }
        };
        let mut sums = vec![0.0; n + 1];
        for at in 1..n {
            sums[at + 1] = sums[at] + moves(at);
        }
        let start = (0..=n - wanted)
            .max_by(|&a, &b| {
                (sums[a + wanted] - sums[a])
                    .total_cmp(&(sums[b + wanted] - sums[b]))
                    .then(b.cmp(&a))
            })
            .unwrap_or(0);
        start..start + wanted
    }

    /// Level of the blocks that are heard, by their share, in dBFS.
    #[expect(clippy::cast_precision_loss, reason = "samples of a block")]
    fn level_share(&self, near: &Range<usize>, share: f64) -> f64 {
        let chain = &self.chains[1];
        let level = |at: usize| {
            let samples = &chain[at * self.block..(at + 1) * self.block];
            let power = samples.iter().map(|x| x * x).sum::<f64>() / self.block as f64;
            10.0 * power.max(1e-14).log10()
        };
        let heard = near.clone().filter(|&at| self.weights[at] > 0.3).map(level);
        let levels: Vec<f64> = heard.collect();
        percentile(&levels, share).unwrap_or(-30.0)
    }
}

/// The point of settings.
fn point(settings: &Settings) -> Point {
    let Settings { threshold_dbfs, ratio, knee_db, attack_s, release_s } = *settings;
    [threshold_dbfs, (ratio - 1.0).ln(), knee_db, attack_s.ln(), release_s.ln()]
}

/// Settings of a point, within what a desk offers.
fn settings(point: &Point) -> Settings {
    Settings {
        threshold_dbfs: point[0],
        ratio: 1.0 + point[1].clamp(-4.0, 4.0).exp(),
        knee_db: point[2].abs().min(20.0),
        attack_s: point[3].exp().clamp(1e-4, 0.3),
        release_s: point[4].exp().clamp(0.005, 4.0),
    }
}

fn by_loss(found: &mut [(f64, Point, Design)]) {
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
}

/// Sums over an odd number of neighbours.
fn smoothed_evenly(values: &[f64], n: usize) -> Vec<f64> {
    let mut sums = vec![0.0];
    for value in values {
        sums.push(sums[sums.len() - 1] + value);
    }
    let end = values.len();
    let sum = |at: usize| sums[(at + n / 2 + 1).min(end)] - sums[at.saturating_sub(n / 2)];
    (0..end).map(sum).collect()
}
