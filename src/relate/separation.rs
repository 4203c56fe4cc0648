//! # Separation of sources from their own microphones
//!
//! What each source sends into each microphone, found from the moments at which sources change their level.
//!
//! - **Formula:** per bin `y = W x`, beginning with `W = I` (close microphones are nearly right); with a variance `v_j(b,t)` of each source:
//!   `V_j = mean(x x^H / v_j)`, `w_j = (W V_j)^-1 e_j / sqrt(w^H V_j w)` as row `j` of `W` in turns, rows scaled so that `A = W^-1` has ones
//!   on its diagonal. `A_ij` is the way from the own microphone of source `j` to microphone `i`. The variance is the band power of
//!   `y_j`, anew in each turn; where it is known how much of a frame holds the source, `p_j(t)`, it is that of its microphone, `P_j`,
//!   times `0.2 + 0.8 p_j`: what the hall's end and moving players leave of the others follows what the microphone hears, and
//!   a variance of what was separated before would take it for the source
//! - **Unit:** pure complex numbers, per kept bin
//! - **Source:** iterative projection for independent vector analysis: N. Ono, "Stable and fast update rules for independent vector analysis
//!   based on auxiliary function technique", IEEE WASPAA 2011; the variance shared by a band and the start from close microphones are
//!   own trials on simulated stages
//! - **Window:** chosen minutes
//! - **No value:** a channel that is silent throughout them
//! - **Misleads when:** two channels carry one signal (they have to be one source first), or two sources are always loud together

use std::ops::Range;

use rayon::prelude::*;
use realfft::num_complex::Complex64;

use super::grid::{Grid, N_BANDS};
use super::spectrogram::{Series, Spectrogram};
use crate::dsp::Square;
use crate::dsp::lanes::{Isa, TALL, WIDE, add_weighted, pair_products};
use crate::dsp::square::Root;

/// Turns of variances and rows.
const ROUNDS: usize = 8;

/// Turns of the rows alone, for each half of the frames.
const HALF_ROUNDS: usize = 3;

/// Least variance, re the mean of a source in a band.
const LEAST_VARIANCE: f32 = 1e-4;

/// What is left of a source's variance where it is known to rest.
const RESTING: f32 = 0.2;

/// Load on the diagonal of the weighted covariances, re their mean.
const LOAD: f64 = 1e-6;

/// Bins that a band needs to tell its power by itself.
const ENOUGH_BINS: usize = 4;

/// Bins that are read together.
const NEIGHBOURS: usize = 4;

/// Frames whose products are summed before they are widened.
const BLOCK: usize = 64;

/// Parts that go to one half or the other in turn.
const N_PARTS: usize = 16;

/// Per band, source and frame: the mean power of the kept bins.
pub type Bands = Vec<Vec<Vec<f32>>>;

/// Sources of chosen channels, told apart.
pub struct Separation {
    /// Channels that are the own microphones of the sources.
    pub references: Vec<usize>,
    /// Per kept bin, the sources from the channels: `y = demix x`.
    pub demix: Vec<Square>,
    /// Per kept bin, the channels from the sources.
    pub mix: Vec<Square>,
    /// The same from every other part of the minutes.
    pub halves: [Vec<Square>; 2],
    /// Power of the sources by band, source and frame, as each is heard in its own microphone.
    pub power: Bands,
}

/// Frames of the even and of the odd parts.
pub fn halves(n_frames: usize) -> [Vec<Range<usize>>; 2] {
    let part = |idx: usize| idx * n_frames / N_PARTS..(idx + 1) * n_frames / N_PARTS;
    [0, 1].map(|first| (first..N_PARTS).step_by(2).map(part).collect())
}

/// A bin's channels, each at unit mean power.
struct Bin {
    re: Vec<Vec<f32>>,
    im: Vec<Vec<f32>>,
    scales: Vec<f32>,
}

impl Bin {
    /// Bins that are neighbours: held side by side, they are read together.
    fn read(spectrogram: &Spectrogram, references: &[usize], bins: Range<usize>) -> Vec<Self> {
        let n_frames = spectrogram.n_frames();
        let nothing = || Self { re: Vec::new(), im: Vec::new(), scales: Vec::new() };
        let mut read: Vec<Self> = bins.clone().map(|_| nothing()).collect();
        for &channel in references {
            for (bin, heard) in read.iter_mut().zip(spectrogram.neighbours(channel, bins.clone())) {
                bin.put(heard, n_frames);
            }
        }
        read
    }

    /// Puts a channel behind the others.
    fn put(&mut self, heard: Series, n_frames: usize) {
        let power = heard.power();
        let Series { mut re, mut im } = heard;
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_precision_loss,
            reason = "a root of a mean power of samples"
        )]
        let scale = ((power / n_frames.max(1) as f64).sqrt() as f32).max(1e-12);
        re.iter_mut().chain(&mut im).for_each(|x| *x /= scale);
        self.re.push(re);
        self.im.push(im);
        self.scales.push(scale);
    }

    /// Power of `row x` in each frame, added to `sum`.
    #[expect(clippy::cast_possible_truncation, reason = "spectra are held as f32")]
    fn add_power(&self, row: &[Complex64], factor: f32, sum: &mut [f32]) {
        let (mut re, mut im) = (vec![0.0f32; sum.len()], vec![0.0f32; sum.len()]);
        for (channel, w) in row.iter().enumerate() {
            let (a, b) = (w.re as f32, w.im as f32);
            let samples = self.re[channel].iter().zip(&self.im[channel]);
            for ((re, im), (x, y)) in re.iter_mut().zip(&mut im).zip(samples) {
                *re += a * x - b * y;
                *im += a * y + b * x;
            }
        }
        for ((sum, re), im) in sum.iter_mut().zip(&re).zip(&im) {
            *sum += factor * (re * re + im * im);
        }
    }
}

/// Tells the sources of some channels apart.
///
/// `presence` says for each source and frame how much of it holds the source, 0 to 1, where that is known.
pub fn separate(
    spectrogram: &Spectrogram,
    references: &[usize],
    presence: Option<&[Vec<f32>]>,
) -> Separation {
    let grid = spectrogram.grid();
    let n_frames = spectrogram.n_frames();
    let n = references.len();
    let n_bins = grid.bins().len();
    let mut demix = vec![Square::identity(n); n_bins];
    let band_of = band_of(grid);
    let weigh = |demix: &[Square]| {
        weights(
            pooled(grid, band_powers(spectrogram, references, demix, true)),
            presence,
            spectrogram,
        )
    };
    // Where it is known who rests, frames are weighed once, before anything is told apart: by what the microphones hear.
    let (n_turns, last_rounds) = if presence.is_some() { (0, ROUNDS) } else { (ROUNDS - 1, 1) };
    for _ in 0..n_turns {
        let weight = weigh(&demix);
        demix.par_chunks_mut(NEIGHBOURS).enumerate().for_each(|(group, demix)| {
            let bins = group * NEIGHBOURS..group * NEIGHBOURS + demix.len();
            let read = Bin::read(spectrogram, references, bins.clone());
            for ((bin, x), demix) in bins.zip(&read).zip(demix) {
                project(demix, &whole(&covariances(x, &weight[band_of[bin]], n_frames)), 1);
            }
        });
    }
    let weight = weigh(&demix);
    let told = |bin: usize, x: &Bin, demix: &mut Square| {
        let halves = covariances(x, &weight[band_of[bin]], n_frames);
        project(demix, &whole(&halves), last_rounds);
        let [first, second] = halves.map(|covariance| {
            let mut half = demix.clone();
            project(&mut half, &covariance, HALF_ROUNDS);
            mixing(&half, &x.scales)
        });
        ((unscaled(demix, &x.scales), mixing(demix, &x.scales)), (first, second))
    };
    type Lists = (Vec<Square>, Vec<Square>);
    let ((as_they_are, mix), (first, second)): (Lists, Lists) = demix
        .par_chunks_mut(NEIGHBOURS)
        .enumerate()
        .flat_map_iter(|(group, demix)| {
            let bins = group * NEIGHBOURS..group * NEIGHBOURS + demix.len();
            let read = Bin::read(spectrogram, references, bins.clone());
            bins.zip(read).zip(demix).map(|((bin, x), demix)| told(bin, &x, demix))
        })
        .unzip();
    let power = band_powers(spectrogram, references, &demix, false);
    Separation {
        references: references.to_vec(),
        demix: as_they_are,
        mix,
        halves: [first, second],
        power,
    }
}

/// A source from the channels, frame by frame, by its row of the demixing.
#[expect(clippy::cast_possible_truncation, reason = "spectra are held as f32")]
pub(super) fn demixed_row(row: &[Complex64], heard: &[Series]) -> Series {
    let mut source = Series::silent(heard.first().map_or(0, Series::len));
    for (w, x) in row.iter().zip(heard) {
        let (a, b) = (w.re as f32, w.im as f32);
        let samples = x.re.iter().zip(&x.im);
        for ((re, im), (x, y)) in source.re.iter_mut().zip(&mut source.im).zip(samples) {
            *re += a * x - b * y;
            *im += a * y + b * x;
        }
    }
    source
}

/// Band of each kept bin.
fn band_of(grid: &Grid) -> Vec<usize> {
    (0..N_BANDS).flat_map(|band| grid.band(band).map(move |_| band)).collect()
}

/// Mean power of each source over the kept bins of each band; `scaled`: of channels at unit power.
fn band_powers(
    spectrogram: &Spectrogram,
    references: &[usize],
    demix: &[Square],
    scaled: bool,
) -> Bands {
    let grid = spectrogram.grid();
    let n_frames = spectrogram.n_frames();
    (0..N_BANDS)
        .into_par_iter()
        .map(|band| {
            let bins = grid.band(band);
            let mut powers = vec![vec![0.0f32; n_frames]; references.len()];
            #[expect(clippy::cast_precision_loss, reason = "a band keeps a few bins")]
            let share = 1.0 / bins.len().max(1) as f32;
            for start in bins.clone().step_by(NEIGHBOURS) {
                let some = start..(start + NEIGHBOURS).min(bins.end);
                for (bin, x) in some.clone().zip(Bin::read(spectrogram, references, some)) {
                    for (source, power) in powers.iter_mut().enumerate() {
                        let scale = if scaled { 1.0 } else { x.scales[source] };
                        x.add_power(demix[bin].row(source), share * scale * scale, power);
                    }
                }
            }
            powers
        })
        .collect()
}

/// Bands with few bins borrow from their neighbours.
#[expect(clippy::cast_precision_loss, reason = "a band keeps a few bins")]
fn pooled(grid: &Grid, bands: Bands) -> Bands {
    (0..N_BANDS)
        .map(|band| {
            if grid.band(band).len() >= ENOUGH_BINS || grid.band(band).is_empty() {
                return bands[band].clone();
            }
            let near: Vec<usize> = (band.saturating_sub(1)..(band + 2).min(N_BANDS))
                .filter(|&near| !grid.band(near).is_empty())
                .collect();
            let n_bins: usize = near.iter().map(|&near| grid.band(near).len()).sum();
            let mut pooled =
                vec![vec![0.0; bands[band].first().map_or(0, Vec::len)]; bands[band].len()];
            for near in near {
                let share = grid.band(near).len() as f32 / n_bins as f32;
                for (pooled, power) in pooled.iter_mut().zip(&bands[near]) {
                    for (pooled, power) in pooled.iter_mut().zip(power) {
                        *pooled += share * power;
                    }
                }
            }
            pooled
        })
        .collect()
}

/// Makes weights of variances, by band and source: small where the source rests, kept away from 0; none where a frame is left out.
#[expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    reason = "a mean of powers that are held as f32"
)]
fn weights(
    mut variances: Bands,
    presence: Option<&[Vec<f32>]>,
    spectrogram: &Spectrogram,
) -> Bands {
    let weigh = |(source, variance): (usize, &mut Vec<f32>)| {
        let sum: f64 = variance.iter().map(|&x| f64::from(x)).sum();
        let least = (LEAST_VARIANCE * (sum / variance.len().max(1) as f64) as f32).max(1e-20);
        let frames = variance.iter_mut().zip(spectrogram.left_out()).enumerate();
        for (frame, (variance, is_left_out)) in frames {
            let present = presence.map_or(1.0, |presence| presence[source][frame]);
            let known = (*variance + least) * (RESTING + (1.0 - RESTING) * present);
            *variance = if *is_left_out { 0.0 } else { known.recip() };
        }
    };
    variances.par_iter_mut().for_each(|sources| sources.iter_mut().enumerate().for_each(weigh));
    variances
}

/// Weighted covariances of a bin for each source, from the even and from the odd parts of the frames.
#[expect(clippy::cast_precision_loss, reason = "counts of frames are far below 2^52")]
fn covariances(x: &Bin, weight: &[Vec<f32>], n_frames: usize) -> [Vec<Square>; 2] {
    let n = x.re.len();
    let n_products = (n * (n + 1)).next_multiple_of(WIDE);
    let n_sources = n.next_multiple_of(TALL);
    let isa = Isa::best();
    let mut sums = [vec![0.0f64; n_products * n_sources], vec![0.0f64; n_products * n_sources]];
    let mut products = vec![0.0f32; BLOCK * n_products];
    let mut weights = vec![0.0f32; BLOCK * n_sources];
    let mut heard = vec![0.0f32; 2 * n];
    for part in 0..N_PARTS {
        let (first, end) = (part * n_frames / N_PARTS, (part + 1) * n_frames / N_PARTS);
        for start in (first..end).step_by(BLOCK) {
            let len = BLOCK.min(end - start);
            for (frame, at) in (start..start + len).enumerate() {
                let (re, im) = heard.split_at_mut(n);
                re.iter_mut().zip(&x.re).for_each(|(re, x)| *re = x[at]);
                im.iter_mut().zip(&x.im).for_each(|(im, x)| *im = x[at]);
                pair_products(isa, re, im, &mut products[frame * n_products..][..n_products]);
                let row = &mut weights[frame * n_sources..][..n];
                row.iter_mut().zip(weight).for_each(|(cell, weight)| *cell = weight[at]);
            }
            add_weighted(
                isa,
                &products[..len * n_products],
                &weights[..len * n_sources],
                n_products,
                n_sources,
                &mut sums[part % 2],
            );
        }
    }
    sums.map(|sums| {
        (0..n).map(|source| hermitian(n, &sums[source * n_products..], n_frames as f64)).collect()
    })
}

/// A matrix from the sums of its upper half.
fn hermitian(n: usize, sums: &[f64], n_frames: f64) -> Square {
    let mut square = Square::zero(n);
    let mut rest = sums;
    for i in 0..n {
        let (reals, after) = rest.split_at(n - i);
        let (imaginaries, after) = after.split_at(n - i);
        for (j, (&re, &im)) in (i..n).zip(reals.iter().zip(imaginaries)) {
            let x = Complex64::new(re, im) / n_frames.max(1.0);
            *square.at_mut(i, j) = x;
            *square.at_mut(j, i) = x.conj();
        }
        rest = after;
    }
    square
}

/// Covariances of all frames from those of both halves.
fn whole([even, odd]: &[Vec<Square>; 2]) -> Vec<Square> {
    let mut whole = even.clone();
    for (sum, odd) in whole.iter_mut().zip(odd) {
        for row in 0..sum.n() {
            sum.row_mut(row).iter_mut().zip(odd.row(row)).for_each(|(sum, x)| *sum += x);
        }
    }
    whole
}

/// Sets each row of the demixing anew, `rounds` times, and scales the rows. Rows that have no solution stay.
///
/// `(W V)^-1 e_j` is `V^-1 a_j` with column `j` of `A = W^-1`, and `A` follows a new row by one outer product.
fn project(demix: &mut Square, covariances: &[Square], rounds: usize) {
    let n = demix.n();
    let roots: Vec<Option<Root>> = covariances.iter().map(loaded_root).collect();
    let Some(mut mix) = demix.inverse() else { return };
    for _ in 0..rounds {
        for (j, root) in roots.iter().enumerate() {
            let Some(root) = root else { continue };
            let column: Vec<Complex64> = (0..n).map(|row| mix.at(row, j)).collect();
            let u = root.solve(&column);
            let size = u.iter().zip(&column).map(|(a, b)| (a.conj() * b).re).sum::<f64>().sqrt();
            if !(size > 0.0 && size.is_finite()) {
                continue;
            }
            for (cell, u) in demix.row_mut(j).iter_mut().zip(&u) {
                *cell = u.conj() / size;
            }
            let mut through = vec![Complex64::default(); n];
            for (&w, row) in demix.row(j).iter().zip(0..n) {
                through.iter_mut().zip(mix.row(row)).for_each(|(sum, a)| *sum += w * a);
            }
            let own = through[j];
            through[j] -= 1.0;
            for (row, a) in column.iter().enumerate() {
                let share = a / own;
                mix.row_mut(row).iter_mut().zip(&through).for_each(|(a, x)| *a -= share * x);
            }
        }
    }
    for row in 0..n {
        let own = mix.at(row, row);
        demix.row_mut(row).iter_mut().for_each(|cell| *cell *= own);
    }
}

/// The root of a covariance with a load on its diagonal.
#[expect(clippy::cast_precision_loss, reason = "channels are few")]
fn loaded_root(covariance: &Square) -> Option<Root> {
    let n = covariance.n();
    let trace: f64 = (0..n).map(|i| covariance.at(i, i).re).sum();
    let mut loaded = covariance.clone();
    for i in 0..n {
        *loaded.at_mut(i, i) += LOAD * trace / n as f64 + 1e-12;
    }
    loaded.root()
}

/// The demixing for channels as they are, from that for channels at unit power.
fn unscaled(demix: &Square, scales: &[f32]) -> Square {
    let mut unscaled = demix.clone();
    for i in 0..demix.n() {
        for (j, cell) in unscaled.row_mut(i).iter_mut().enumerate() {
            *cell *= f64::from(scales[i]) / f64::from(scales[j]);
        }
    }
    unscaled
}

/// The ways from sources to channels as they are; only the own ones where the demixing has no inverse.
fn mixing(demix: &Square, scales: &[f32]) -> Square {
    unscaled(demix, scales).inverse().unwrap_or_else(|| Square::identity(demix.n()))
}
