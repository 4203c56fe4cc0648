//! How the desk colours each channel, for each side of the main mix: the slow half of the reading of a mix.
//!
//! Takes products of all channels and the main mix, bin by bin, weighted by gains that are known for the moment; gives a
//! complex factor for each channel, side and bin, smooth over frequency. Never changes over the section.

use rayon::prelude::*;
use realfft::num_complex::Complex64;

use super::grid::{Grid, N_BANDS, middle_hz};
use super::spectrogram::{BLOCK, Spectrogram};
use super::staged::Staged;
use crate::dsp::lanes::{Frame, Isa, LANES, Panel, WIDE, add_pairs, scaled, side_by_side, widen};
use crate::dsp::percentile::median;
use crate::dsp::{Banded, Square};

/// Left and right.
pub const SIDES: usize = 2;

/// Blocks whose products are summed before they are widened.
const TOGETHER: usize = 4;

/// Bins whose products are summed in turn, some blocks at a time: they are held side by side, so that the next one is near.
const NEIGHBOURS: usize = 16;

/// Bend between neighbouring third-octaves that is nothing unusual, re the factor itself.
const BEND: f64 = 0.3;

/// How firmly a factor is held near 0 where nothing is heard of the channel, re its usual size: sides of a stereo pair that are one signal
/// in the bass would trade their parts there, large and against each other.
const HOLD: f64 = 0.3;

/// Load on the diagonal of the equations of a single bin, re the power of each channel.
const LOAD: f64 = 1e-4;

/// The same where a channel is silent, re the loudest.
const SILENT: f64 = 1e-12;

/// Least mean square of a channel's factors, re the largest: what is closed has a size as well.
const LEAST_FACTOR: f64 = 1e-8;

/// Which channels of a spectrogram are mixed, and where the main mix is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Patch {
    /// Channels that may be in the mix.
    pub channels: Vec<usize>,
    /// Left and right of the main mix; the same twice if it is mono.
    pub main: [usize; SIDES],
    /// Places in `channels` of lead voices and of effects: what the rest of the mix is told without.
    pub leads: Vec<usize>,
}

/// Factors of the channels: side by side, in each the kept bins, in each the channels.
pub type Colours = [Vec<Vec<Complex64>>; SIDES];

/// Products of a bin over all frames.
#[derive(Clone, Debug)]
pub struct Products {
    /// Of each channel's conjugate with each channel.
    pub channels: Square,
    /// Of each channel's conjugate with each side of the mix.
    pub with_main: [Vec<Complex64>; SIDES],
    /// Power of each side of the mix.
    pub main: [f64; SIDES],
    /// Sum of the weights.
    pub weight: f64,
}

impl Products {
    /// Products from the sums of columns: in each panel the real parts of eight channels, then the imaginary ones; both sides of the mix
    /// stand behind the channels.
    fn from_sums(n: usize, sums: &Sums, weight: f64) -> Self {
        let cross = |a: usize, b: usize| {
            let [[are, aim], [bre, bim]] = [a, b].map(|idx| {
                let re = idx / LANES * WIDE + idx % LANES;
                [re, re + LANES]
            });
            Complex64::new(
                sums.at(are, bre) + sums.at(aim, bim),
                sums.at(are, bim) - sums.at(aim, bre),
            )
        };
        let mut channels = Square::zero(n);
        for a in 0..n {
            for b in 0..n {
                *channels.at_mut(a, b) = cross(a, b);
            }
        }
        Self {
            channels,
            with_main: [0, 1].map(|side| (0..n).map(|a| cross(a, n + side)).collect()),
            main: [0, 1].map(|side| cross(n + side, n + side).re),
            weight,
        }
    }

    /// Power of what a bin's factors leave of a side, weighted sum over the frames.
    pub fn left_over(&self, side: usize, factors: &[Complex64]) -> f64 {
        let through = self.channels.times_column(factors);
        let explained: f64 =
            factors.iter().zip(&through).map(|(e, through)| (e.conj() * through).re).sum();
        let shared: f64 =
            factors.iter().zip(&self.with_main[side]).map(|(e, b)| (e.conj() * b).re).sum();
        (self.main[side] - 2.0 * shared + explained).max(0.0)
    }

    /// Factors of this bin by itself.
    pub fn alone(&self, side: usize) -> Option<Vec<Complex64>> {
        let mut loaded = self.channels.clone();
        let n = loaded.n();
        let most = (0..n).map(|channel| loaded.at(channel, channel).re).fold(0.0, f64::max);
        for channel in 0..n {
            let cell = loaded.at_mut(channel, channel);
            *cell = *cell * (1.0 + LOAD) + most * SILENT;
        }
        loaded.solve(&self.with_main[side])
    }
}

/// Sums of products of every pair of columns.
#[derive(Clone)]
struct Sums {
    n_panels: usize,
    /// For each panel, those with itself and with the later ones.
    pairs: Vec<[[f64; WIDE]; WIDE]>,
}

impl Sums {
    fn zero(n_panels: usize) -> Self {
        Self { n_panels, pairs: vec![[[0.0; WIDE]; WIDE]; n_panels * (n_panels + 1) / 2] }
    }

    /// Adds the products of rows; `panels` holds panel by panel the first rows of `n_rows`.
    fn add(&mut self, isa: Isa, panels: &[Panel], n_rows: usize, n_used: usize) {
        let panel = |idx: usize| &panels[idx * n_rows..][..n_used];
        let mut pairs = self.pairs.iter_mut();
        for down in 0..self.n_panels {
            for (across, pairs) in (down..self.n_panels).zip(&mut pairs) {
                let mut sums = [[0.0; WIDE]; WIDE];
                add_pairs(isa, panel(down), panel(across), &mut sums);
                widen(isa, pairs, &sums);
            }
        }
    }

    fn at(&self, a: usize, b: usize) -> f64 {
        let (down, across) = (a.min(b), a.max(b));
        let before = down / WIDE;
        // Each panel has one pair less than the one before it.
        let first = before * self.n_panels - before * before.saturating_sub(1) / 2;
        self.pairs[first + across / WIDE - before][down % WIDE][across % WIDE]
    }
}

/// Products over some blocks of frames, bin by bin. `gains` holds for each channel a factor for each frame, `noise` for each frame
/// the power of what it leaves unexplained, re the usual.
pub fn products(
    held: &Spectrogram,
    patch: &Patch,
    gains: &[Vec<f32>],
    noise: &[f32],
    blocks: &[usize],
) -> Vec<Products> {
    let roots: Vec<f32> = noise.iter().map(|noise| 1.0 / noise.sqrt()).collect();
    let factors = factors(gains, &roots);
    let of_block = |&block: &usize| -> f64 {
        roots[block * BLOCK..].iter().take(BLOCK).map(|root| f64::from(root * root)).sum()
    };
    let weight = blocks.iter().map(of_block).sum();
    let n_bins = held.grid().bins().len();
    let starts: Vec<usize> = (0..n_bins).step_by(NEIGHBOURS).collect();
    starts
        .into_par_iter()
        .map(|start| (start..(start + NEIGHBOURS).min(n_bins)).collect::<Vec<usize>>())
        .flat_map_iter(|bins| of_bins(held, patch, &factors, weight, &bins, blocks))
        .collect()
}

/// For eight channels at a time, and both sides behind them, what each frame is to be multiplied by; 0 for frames after the last.
fn factors(gains: &[Vec<f32>], roots: &[f32]) -> Vec<Vec<Frame>> {
    let n_frames = roots.len().next_multiple_of(BLOCK);
    let mut factors = vec![vec![[0.0; LANES]; n_frames]; (gains.len() + SIDES).div_ceil(LANES)];
    for (idx, gains) in gains.iter().enumerate() {
        let frames = factors[idx / LANES].iter_mut().zip(gains).zip(roots);
        frames.for_each(|((frame, gain), root)| frame[idx % LANES] = gain * root);
    }
    for idx in gains.len()..gains.len() + SIDES {
        let frames = factors[idx / LANES].iter_mut().zip(roots);
        frames.for_each(|(frame, &root)| frame[idx % LANES] = root);
    }
    factors
}

/// Products of bins that are neighbours.
fn of_bins(
    held: &Spectrogram,
    patch: &Patch,
    factors: &[Vec<Frame>],
    weight: f64,
    bins: &[usize],
    blocks: &[usize],
) -> Vec<Products> {
    const N_ROWS: usize = TOGETHER * BLOCK;
    let isa = Isa::best();
    let mut staged = Staged::new(patch.channels.iter().chain(&patch.main).copied().collect());
    let n_panels = staged.n_octets();
    let mut panels = vec![[0.0f32; WIDE]; n_panels * N_ROWS];
    let mut turned = [[0u32; LANES]; BLOCK];
    let mut all = vec![Sums::zero(n_panels); bins.len()];
    for blocks in blocks.chunks(TOGETHER) {
        staged.fill(held, blocks, bins);
        for (bin, all) in all.iter_mut().enumerate() {
            for (place, &block) in blocks.iter().enumerate() {
                let octets = staged.of(place, bin).iter().zip(factors);
                for ((octet, factors), rows) in octets.zip(panels.chunks_exact_mut(N_ROWS)) {
                    let rows = &mut rows[place * BLOCK..(place + 1) * BLOCK];
                    let factors = &factors[block * BLOCK..(block + 1) * BLOCK];
                    side_by_side(isa, &octet.cells, &mut turned);
                    scaled(isa, &turned, &octet.scales, factors, rows.as_flattened_mut(), WIDE);
                }
            }
            all.add(isa, &panels, N_ROWS, blocks.len() * BLOCK);
        }
    }
    all.iter().map(|sums| Products::from_sums(patch.channels.len(), sums, weight)).collect()
}

/// Factors of every bin by itself, for both sides; 0 where a bin has no solution.
pub fn apart(products: &[Products]) -> Colours {
    [0, 1].map(|side| {
        let alone = |one: &Products| {
            one.alone(side).unwrap_or_else(|| vec![Complex64::default(); one.channels.n()])
        };
        products.par_iter().map(alone).collect()
    })
}

/// Factors of a side that run in straight lines from the middle of a third-octave to the next, in the sense of least squares.
///
/// `weights` holds one over the power that each bin leaves unexplained, `before` the factors as they were; these stay if there is
/// no solution.
pub fn smooth(
    grid: &Grid,
    products: &[Products],
    side: usize,
    weights: &[f64],
    before: &[Vec<Complex64>],
) -> Vec<Vec<Complex64>> {
    let n = before.first().map_or(0, Vec::len);
    let places: Vec<(usize, f64)> = places(grid);
    let mut equations = Banded::zero(N_BANDS * n, 2 * n);
    let mut wanted = vec![Complex64::default(); N_BANDS * n];
    for ((one, &weight), &(knot, part)) in products.iter().zip(weights).zip(&places) {
        let shares = [(knot, 1.0 - part), (knot + 1, part)];
        for &(row, in_row) in shares.iter().filter(|share| share.1 > 0.0) {
            for a in 0..n {
                wanted[row * n + a] += one.with_main[side][a] * weight * in_row;
                for &(column, in_column) in shares.iter().filter(|share| share.1 > 0.0) {
                    if column > row {
                        continue;
                    }
                    let end = if column == row { a + 1 } else { n };
                    for b in 0..end {
                        *equations.at_mut(row * n + a, column * n + b) +=
                            one.channels.at(a, b) * (weight * in_row * in_column);
                    }
                }
            }
        }
    }
    let mut sizes: Vec<f64> = (0..n)
        .map(|channel| {
            let squares: Vec<f64> = before.iter().map(|bin| bin[channel].norm_sqr()).collect();
            median(&squares).unwrap_or(0.0)
        })
        .collect();
    let least = LEAST_FACTOR * sizes.iter().copied().fold(0.0, f64::max) + f64::MIN_POSITIVE;
    sizes.iter_mut().for_each(|size| *size = size.max(least));
    for (channel, size) in sizes.iter().enumerate() {
        let mut add = |row: usize, column: usize, value: f64| {
            *equations.at_mut(row * n + channel, column * n + channel) += value / size;
        };
        for knot in 0..N_BANDS {
            add(knot, knot, HOLD);
        }
        // The squares of second differences.
        for knot in 2..N_BANDS {
            let bend = [1.0 / BEND, -2.0 / BEND, 1.0 / BEND];
            for row in 0..3 {
                for column in 0..=row {
                    add(knot - 2 + row, knot - 2 + column, bend[row] * bend[column]);
                }
            }
        }
    }
    let Some(knots) = equations.solve(&wanted) else { return before.to_vec() };
    let at = |knot: usize, channel: usize| {
        if knot < N_BANDS { knots[knot * n + channel] } else { Complex64::default() }
    };
    places
        .iter()
        .map(|&(knot, part)| {
            (0..n).map(|k| at(knot, k) * (1.0 - part) + at(knot + 1, k) * part).collect()
        })
        .collect()
}

/// The middle of a third-octave at or below each bin, and how far the bin lies on the way to the next.
#[expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "third-octaves are few, and clamped"
)]
fn places(grid: &Grid) -> Vec<(usize, f64)> {
    let bin_hz = f64::from(grid.rate_hz()) / grid.frame() as f64;
    grid.bins()
        .iter()
        .map(|&bin| {
            let thirds = 3.0 * (bin as f64 * bin_hz / middle_hz(0)).log2();
            let thirds = thirds.clamp(0.0, (N_BANDS - 1) as f64);
            (thirds as usize, thirds.fract())
        })
        .collect()
}
