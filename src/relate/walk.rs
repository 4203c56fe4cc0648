//! Gains that change a little from frame to frame: the smoothest course that still explains the mix.
//!
//! Takes the equations of all frames, gives gains frame by frame and how well each is known. It is the mean of a random walk given
//! all frames, found by conjugate gradients; each channel's own walk is solved exactly within each turn. Never crosses from
//! one stretch to the next.

use rayon::prelude::*;

use super::ride::Equations;
use crate::dsp::Square;

/// Step of a gain from a frame to the next, re its usual size, at a hop of 43 ms.
const STEP: f64 = 0.08;
const STEP_HOP_S: f64 = 2048.0 / 48_000.0;

/// Neighbouring frames overlap: their equations count half.
const OVERLAP: f64 = 2.0;

/// How firmly a gain is held near 1 where nothing tells.
const HOLD: f64 = 1e-3;

/// Most turns, and the part of the right side at which they end.
const MOST_TURNS: usize = 60;
const ENOUGH: f64 = 1e-4;

/// Load on the equations of a silent channel, re the loudest.
const SILENT: f64 = 1e-12;

/// Least share of a channel that others can't make.
const LEAST_OWN: f64 = 1e-4;

/// The course of the gains.
#[derive(Clone, Debug)]
pub struct Course {
    /// For each channel, frame by frame, not below 0.
    pub gains: Vec<Vec<f32>>,
    /// Standard deviation of each.
    pub deviations: Vec<Vec<f32>>,
}

/// The course of the gains over frames `hop_s` apart; `starts` are the first frames of the stretches.
pub fn course(equations: &Equations, hop_s: f64, starts: &[usize]) -> Course {
    let stiffness = 1.0 / (STEP * STEP * hop_s / STEP_HOP_S);
    let (n, n_frames) = (equations.n_channels(), equations.n_frames());
    let walk = Walk { equations, stiffness, is_start: is_start(n_frames, starts) };
    let chains = Chains::new(&walk);
    let wanted: Vec<f64> = (0..n_frames)
        .flat_map(|frame| equations.with_main(frame))
        .map(|&b| f64::from(b) / OVERLAP + HOLD)
        .collect();
    let mut found = vec![1.0f64; n * n_frames];
    let mut rest = walk.times(&found);
    rest.iter_mut().zip(&wanted).for_each(|(rest, wanted)| *rest = wanted - *rest);
    let enough = ENOUGH * ENOUGH * dot(&wanted, &chains.solve(&wanted));
    let mut better = chains.solve(&rest);
    let mut way = better.clone();
    let mut size = dot(&rest, &better);
    for _ in 0..MOST_TURNS {
        if size <= enough || size.is_nan() {
            break;
        }
        let through = walk.times(&way);
        let length = size / dot(&way, &through);
        add(&mut found, &way, length);
        add(&mut rest, &through, -length);
        better = chains.solve(&rest);
        let next = dot(&rest, &better);
        let keep = next / size;
        way.iter_mut().zip(&better).for_each(|(way, better)| *way = better + keep * *way);
        size = next;
    }
    let own = own_shares(equations);
    #[expect(clippy::cast_possible_truncation, reason = "gains are held as f32")]
    let gains = (0..n)
        .map(|k| found.iter().skip(k).step_by(n.max(1)).map(|&g| g.max(0.0) as f32).collect())
        .collect();
    let deviations = (0..n).into_par_iter().map(|k| walk.deviations(k, own[k])).collect();
    Course { gains, deviations }
}

/// The equations of all frames with the walk between them.
struct Walk<'a> {
    equations: &'a Equations,
    stiffness: f64,
    is_start: Vec<bool>,
}

impl Walk<'_> {
    /// How much a frame is tied to its neighbours.
    fn ties(&self, frame: usize) -> f64 {
        let to_next = self.is_start.get(frame + 1).is_some_and(|is_start| !is_start);
        self.stiffness * (f64::from(u8::from(!self.is_start[frame])) + f64::from(u8::from(to_next)))
    }

    fn times(&self, x: &[f64]) -> Vec<f64> {
        let n = self.equations.n_channels();
        let mut through = vec![0.0f64; x.len()];
        through.par_chunks_mut(n.max(1)).enumerate().with_min_len(64).for_each(
            |(frame, through)| {
                let here = &x[frame * n..(frame + 1) * n];
                let own = HOLD + self.ties(frame);
                // Symmetric: its columns are its rows, and all sums grow at once.
                for (column, x) in self.equations.products(frame).chunks_exact(n).zip(here) {
                    through.iter_mut().zip(column).for_each(|(sum, &a)| *sum += f64::from(a) * x);
                }
                through.iter_mut().zip(here).for_each(|(sum, x)| *sum = *sum / OVERLAP + own * x);
                if !self.is_start[frame] {
                    add(through, &x[(frame - 1) * n..frame * n], -self.stiffness);
                }
                if self.is_start.get(frame + 1).is_some_and(|is_start| !is_start) {
                    add(through, &x[(frame + 1) * n..(frame + 2) * n], -self.stiffness);
                }
            },
        );
        through
    }

    fn own(&self, frame: usize, channel: usize) -> f64 {
        let n = self.equations.n_channels();
        f64::from(self.equations.products(frame)[channel * n + channel]) / OVERLAP + HOLD
    }

    /// How well a channel's gain is known in each frame, if `own` of its equations is its own.
    fn deviations(&self, channel: usize, own: f64) -> Vec<f32> {
        let n_frames = self.equations.n_frames();
        let told: Vec<f64> =
            (0..n_frames).map(|frame| own * (self.own(frame, channel) - HOLD) + HOLD).collect();
        // Both ways: what is known from the frames before, and from those after.
        let step = 1.0 / self.stiffness;
        let before = passed_on(&told, |frame| self.is_start[frame], step);
        let mut backwards = told.clone();
        backwards.reverse();
        let ends = |frame: usize| {
            let frame = n_frames - 1 - frame;
            frame + 1 == n_frames || self.is_start[frame + 1]
        };
        let mut after = passed_on(&backwards, ends, step);
        after.reverse();
        #[expect(clippy::cast_possible_truncation, reason = "a deviation near 1 or below")]
        let deviation = |((told, before), after): ((&f64, &f64), &f64)| {
            (1.0 / (told + before + after)).sqrt() as f32
        };
        told.iter().zip(&before).zip(&after).map(deviation).collect()
    }
}

/// What a walk passes on to each frame from those before it.
fn passed_on(told: &[f64], starts: impl Fn(usize) -> bool, step: f64) -> Vec<f64> {
    let mut known = 0.0f64;
    let mut passed = Vec::with_capacity(told.len());
    for (frame, told) in told.iter().enumerate() {
        let here = if starts(frame) { 0.0 } else { 1.0 / (1.0 / known + step) };
        passed.push(here);
        known = here + told;
    }
    passed
}

/// Each channel's own walk, factorised.
struct Chains {
    n: usize,
    /// Frame by frame, for each channel: one over the pivot, and the factor to the frame before.
    pivots: Vec<f64>,
    factors: Vec<f64>,
}

impl Chains {
    fn new(walk: &Walk<'_>) -> Self {
        let (n, n_frames) = (walk.equations.n_channels(), walk.equations.n_frames());
        let (mut pivots, mut factors) = (vec![0.0; n * n_frames], vec![0.0; n * n_frames]);
        for frame in 0..n_frames {
            for channel in 0..n {
                let at = frame * n + channel;
                let mut pivot = walk.own(frame, channel) + walk.ties(frame);
                if !walk.is_start[frame] {
                    factors[at] = -walk.stiffness * pivots[at - n];
                    pivot += walk.stiffness * factors[at];
                }
                pivots[at] = 1.0 / pivot;
            }
        }
        Self { n, pivots, factors }
    }

    fn solve(&self, right: &[f64]) -> Vec<f64> {
        let n = self.n.max(1);
        let mut x = right.to_vec();
        for start in (n..x.len()).step_by(n) {
            let (before, here) = x.split_at_mut(start);
            let factors = &self.factors[start..start + n];
            let pairs = here[..n].iter_mut().zip(&before[start - n..]);
            pairs.zip(factors).for_each(|((x, before), factor)| *x -= factor * before);
        }
        x.iter_mut().zip(&self.pivots).for_each(|(x, pivot)| *x *= pivot);
        for start in (n..x.len()).step_by(n).rev() {
            let (before, here) = x.split_at_mut(start);
            let factors = &self.factors[start..start + n];
            let pairs = before[start - n..].iter_mut().zip(&here[..n]);
            pairs.zip(factors).for_each(|((before, x), factor)| *before -= factor * x);
        }
        x
    }
}

/// Share of each channel's equations that no mixture of the others can make.
fn own_shares(equations: &Equations) -> Vec<f64> {
    let n = equations.n_channels();
    let mut sum = Square::zero(n);
    for frame in 0..equations.n_frames() {
        for (row, values) in equations.products(frame).chunks_exact(n.max(1)).enumerate() {
            let cells = sum.row_mut(row).iter_mut().zip(values);
            cells.for_each(|(cell, &x)| cell.re += f64::from(x));
        }
    }
    let power: Vec<f64> = (0..n).map(|k| sum.at(k, k).re).collect();
    let most = power.iter().copied().fold(0.0, f64::max);
    for (k, power) in power.iter().enumerate() {
        sum.at_mut(k, k).re += LEAST_OWN * power + most * SILENT;
    }
    let inverse = sum.inverse();
    let share = |(k, power): (usize, &f64)| {
        let inverse = inverse.as_ref().map_or(f64::INFINITY, |inverse| inverse.at(k, k).re);
        (1.0 / (inverse * power.max(f64::MIN_POSITIVE))).clamp(LEAST_OWN, 1.0)
    };
    power.iter().enumerate().map(share).collect()
}

fn is_start(n_frames: usize, starts: &[usize]) -> Vec<bool> {
    let mut is_start = vec![false; n_frames];
    for &start in starts.iter().chain(&[0]) {
        if let Some(place) = is_start.get_mut(start) {
            *place = true;
        }
    }
    is_start
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn add(sum: &mut [f64], x: &[f64], factor: f64) {
    sum.iter_mut().zip(x).for_each(|(sum, x)| *sum += factor * x);
}
