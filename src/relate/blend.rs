//! # Reading of a mix
//!
//! What the desk did to each channel on its way to the main mix: a colour that stays, and a gain that moves.
//!
//! - **Formula:** for left and right `y(f,t) = sum_k g_k(t) E_k(f) x_k(f,t) + e(f,t)` with real gains `g >= 0` that both sides share and
//!   complex colours `E`, straight over log frequency from third-octave to third-octave; both by least squares in turns, bins weighted by
//!   `1/mean|e|^2`, frames by the same over all bins; at last the gains as the mean of a random walk of 0.08 a frame given all frames
//! - **Unit:** pure numbers; gain of a channel in dB re its raw tap
//! - **Source:** least squares for each unknown in turn (alternating least squares; J. Kruskal, Psychometrika 1964, from memory); the
//!   weights, the smoothness and the number of turns are own trials on simulated desks
//! - **Window:** a section of up to two minutes, frames of 85 ms
//! - **No value:** a channel that is silent, or not in the mix
//! - **Misleads when:** a channel's colour or pan is changed within the section, channels carry one signal (only their sum can be told),
//!   or something distorts, shifts or delays a channel: it shows as unexplained

use super::colour::{Colours, Patch, Products, SIDES, apart, products, smooth};
use super::grid::{Grid, N_BANDS};
use super::ride::{Equations, equations, shared};
use super::spectrogram::{BLOCK, Spectrogram};
use super::walk::{Course, course};

/// Turns of colours and gains.
const ROUNDS: usize = 5;

/// From that many blocks of frames, spread evenly, colours are told as well as from more: a minute.
const ENOUGH_BLOCKS: usize = 88;

/// Every so many bins tell gains while colours are still being found.
const COARSE_BINS: usize = 2;

/// Least power that is left unexplained, re the mix.
const LEAST_REST: f64 = 1e-4;

/// Least usual gain: what is closed is not blown up.
const LEAST_GAIN: f32 = 1e-3;

/// A mix, read.
pub struct Blend {
    /// Factors of each channel, for each side and bin.
    pub colours: Colours,
    /// Gains, frame by frame.
    pub course: Course,
    /// For each channel, frame by frame: what it would give to the mix at a gain of 1, re what is usually left unexplained.
    pub energy: Vec<Vec<f32>>,
    /// The equations of the gains, each frame by its own noise.
    pub equations: Equations,
    /// Coherence of each pair of raw channels, row by row, 0 to 1: what carries one signal reads near 1.
    pub coherence: Vec<Vec<f64>>,
}

/// Reads the mix of a section. There is none if there are no channels or no frames.
pub fn blend(held: &Spectrogram, patch: &Patch) -> Option<Blend> {
    let (n, n_frames) = (patch.channels.len(), held.n_frames());
    if n == 0 || n_frames == 0 {
        return None;
    }
    let grid = held.grid();
    let n_blocks = n_frames.div_ceil(BLOCK);
    let n_chosen = n_blocks.min(ENOUGH_BLOCKS);
    let blocks: Vec<usize> = (0..n_chosen).map(|idx| idx * n_blocks / n_chosen).collect();
    let mut gains = vec![vec![1.0f32; n_frames]; n];
    let mut noise = vec![1.0f32; n_frames];
    let mut found = products(held, patch, &gains, &noise, &blocks);
    let coherence = coherence(&found);
    let mut colours = apart(&found);
    let mut weights = of_bins(grid, &found, &colours);
    for round in 0..ROUNDS {
        if round > 0 {
            found = products(held, patch, &gains, &noise, &blocks);
            weights = of_bins(grid, &found, &colours);
        }
        let smooth = |side: usize| smooth(grid, &found, side, &weights[side], &colours[side]);
        colours = rayon::join(|| smooth(0), || smooth(1)).into();
        if round + 1 < ROUNDS {
            let next = shared(held, patch, &colours, &weights, &noise, &blocks, COARSE_BINS);
            gains = next.gains;
            noise = next.noise;
            for (gains, energy) in gains.iter_mut().zip(&next.energy) {
                to_unit(gains, energy);
            }
        }
    }
    let mut equations = equations(held, patch, &colours, &weights);
    let energy = equations.energy();
    equations.divide(&equations.noise(&equations.shared_gains()));
    let starts: Vec<usize> = held.stretches().iter().map(|stretch| stretch.0).collect();
    let course = course(&equations, grid.hop_s(), &starts);
    Some(Blend { colours, course, energy, equations, coherence })
}

/// Scales gains to a usual size of 1.
fn to_unit(gains: &mut [f32], energy: &[f32]) {
    let all: f32 = energy.iter().sum();
    let in_mix: f32 = energy.iter().zip(&*gains).map(|(energy, gain)| energy * gain * gain).sum();
    if all > 0.0 {
        let usual = (in_mix / all).sqrt().max(LEAST_GAIN);
        gains.iter_mut().for_each(|gain| *gain /= usual);
    }
}

/// One over what each bin leaves unexplained, half of it by itself and half as its third-octave does, for both sides.
#[expect(clippy::cast_precision_loss, reason = "a band keeps a few bins")]
fn of_bins(grid: &Grid, products: &[Products], colours: &Colours) -> [Vec<f64>; SIDES] {
    [0, 1].map(|side| {
        let per_weight = |one: &Products, power: f64| power / one.weight.max(f64::MIN_POSITIVE);
        let left: Vec<f64> = products
            .iter()
            .zip(&colours[side])
            .map(|(one, colours)| per_weight(one, one.left_over(side, colours)))
            .collect();
        let main: Vec<f64> = products.iter().map(|one| per_weight(one, one.main[side])).collect();
        let all = main.iter().sum::<f64>() / main.len().max(1) as f64;
        let mut weights = vec![0.0; products.len()];
        for band in 0..N_BANDS {
            let bins = grid.band(band);
            let mean = |of: &[f64]| of[bins.clone()].iter().sum::<f64>() / bins.len().max(1) as f64;
            let (left_of_band, main_of_band) = (mean(&left), mean(&main));
            for bin in bins.clone() {
                let rest = 0.5 * (left_of_band + left[bin]) + LEAST_REST * main_of_band;
                // A band or a side without sound tells nothing.
                weights[bin] = if main_of_band > all * 1e-12 { 1.0 / rest } else { 0.0 };
            }
        }
        weights
    })
}

/// Coherence of each pair, weighted by the root of the power of both.
fn coherence(products: &[Products]) -> Vec<Vec<f64>> {
    let n = products.first().map_or(0, |one| one.channels.n());
    let of_pair = |a: usize, b: usize| {
        let (mut sum, mut weight) = (0.0, 0.0);
        for one in products {
            let both = one.channels.at(a, a).re * one.channels.at(b, b).re;
            if both > 0.0 {
                let root = both.sqrt();
                sum += root * one.channels.at(a, b).norm_sqr() / both;
                weight += root;
            }
        }
        if weight > 0.0 { sum / weight } else { 0.0 }
    };
    (0..n).map(|a| (0..n).map(|b| of_pair(a, b)).collect()).collect()
}
