//! How much of each channel goes to the main mix from frame to frame: the fast half of the reading of a mix.
//!
//! Takes spectra and the colours of all channels, gives for each frame the equations whose solution are the gains, and gains of a
//! few frames at a time that are not negative. Never changes a colour.

use rayon::prelude::*;

use super::colour::{Colours, Patch, SIDES};
use super::spectrogram::{BLOCK, Spectrogram};
use super::staged::{Octet, Staged};
use crate::dsp::lanes::{
    Frame, Isa, LANES, Pairs, Panel, WIDE, add_pairs, coloured, side_by_side, weighted_sum,
};

/// Frames that share a gain while colours are still being found: 170 ms.
const SHARED: usize = 4;

/// Bins whose products are summed at a time.
const CHUNK: usize = 8;

/// Turns of all channels when gains are found.
const SWEEPS: usize = 30;

/// How firmly a gain is held near 1, re the mean of the equations, and at least.
const HOLD: [f32; 2] = [1e-3, 0.5];

/// Range of what a frame leaves unexplained, re the usual.
const NOISE: [f32; 2] = [0.25, 20.0];

/// The equations of all frames: `products g = with_main`, both sides together.
#[derive(Clone, Debug)]
pub struct Equations {
    n: usize,
    /// Frame by frame a square, row by row.
    products: Vec<f32>,
    /// Frame by frame a value for each channel.
    with_main: Vec<f32>,
    /// Frame by frame the power of the mix.
    main: Vec<f32>,
    /// Frame by frame the values that were summed.
    n_values: f32,
}

impl Equations {
    /// Channels.
    pub fn n_channels(&self) -> usize {
        self.n
    }

    /// Frames.
    pub fn n_frames(&self) -> usize {
        self.main.len()
    }

    /// Values that each frame's sums hold: both sides of all bins.
    pub fn n_values(&self) -> f32 {
        self.n_values
    }

    /// The square of a frame, row by row.
    pub fn products(&self, frame: usize) -> &[f32] {
        &self.products[frame * self.n * self.n..(frame + 1) * self.n * self.n]
    }

    /// The right side of a frame.
    pub fn with_main(&self, frame: usize) -> &[f32] {
        &self.with_main[frame * self.n..(frame + 1) * self.n]
    }

    /// Equations that are given.
    ///
    /// # Panics
    ///
    /// If they are not those of whole frames.
    pub fn new(n: usize, products: Vec<f32>, with_main: Vec<f32>) -> Self {
        assert_eq!(products.len(), with_main.len() * n, "a square for each frame");
        let n_frames = with_main.len() / n.max(1);
        Self { n, products, with_main, main: vec![0.0; n_frames], n_values: 1.0 }
    }

    /// Divides each frame by its noise.
    pub fn divide(&mut self, noise: &[f32]) {
        let n = self.n;
        for (frame, noise) in noise.iter().enumerate() {
            let of_frame = self.products[frame * n * n..(frame + 1) * n * n].iter_mut();
            of_frame.for_each(|x| *x /= noise);
            self.with_main[frame * n..(frame + 1) * n].iter_mut().for_each(|x| *x /= noise);
            self.main[frame] /= noise;
        }
    }

    /// For each channel, frame by frame: what it gives to the mix at a gain of 1, re what is usually left.
    pub fn energy(&self) -> Vec<Vec<f32>> {
        let own = |k: usize| (0..self.n_frames()).map(move |t| self.products(t)[k * self.n + k]);
        (0..self.n).map(|k| own(k).collect()).collect()
    }

    /// What gains leave of a frame, re what is usual, within bounds.
    pub fn noise(&self, gains: &[Vec<f32>]) -> Vec<f32> {
        let noise = |t: usize| {
            let here: Vec<f32> = gains.iter().map(|gains| gains[t]).collect();
            self.left_over(t, &here).clamp(NOISE[0], NOISE[1])
        };
        (0..self.n_frames()).into_par_iter().map(noise).collect()
    }

    /// Gains that a few frames share, for each channel frame by frame.
    pub fn shared_gains(&self) -> Vec<Vec<f32>> {
        let starts: Vec<usize> = (0..self.n_frames()).step_by(SHARED).collect();
        let found: Vec<Vec<f32>> = starts
            .into_par_iter()
            .map(|start| together(self, start..(start + SHARED).min(self.n_frames())))
            .collect();
        let gain = |k: usize, t: usize| found[t / SHARED][k];
        (0..self.n).map(|k| (0..self.n_frames()).map(|t| gain(k, t)).collect()).collect()
    }

    fn left_over(&self, frame: usize, gains: &[f32]) -> f32 {
        let rows = self.products(frame).chunks_exact(self.n);
        let explained: f32 = rows.zip(gains).map(|(row, gain)| gain * dot(row, gains)).sum();
        let shared = dot(self.with_main(frame), gains);
        (self.main[frame] - 2.0 * shared + explained) / self.n_values
    }
}

/// Colours as the frames need them: each divided by the root of what its bin leaves unexplained.
struct Palette {
    /// Bin by bin, in each eight channels at a time: side by side the real and the imaginary parts.
    colours: Vec<[[Frame; 2]; SIDES]>,
    n_octets: usize,
    /// Bin by bin the sides.
    roots: Vec<[f32; SIDES]>,
    bins: Vec<usize>,
}

impl Palette {
    #[expect(clippy::cast_possible_truncation, reason = "spectra are held as f32")]
    fn new(colours: &Colours, weights: &[Vec<f64>; SIDES], every: usize) -> Self {
        let n_octets = colours[0].first().map_or(0, Vec::len).div_ceil(LANES);
        let bins: Vec<usize> = (0..colours[0].len()).step_by(every).collect();
        let mut palette = vec![[[[0.0; LANES]; 2]; SIDES]; bins.len() * n_octets];
        let mut roots = vec![[0.0; SIDES]; bins.len()];
        for (place, &bin) in bins.iter().enumerate() {
            for side in 0..SIDES {
                let root = weights[side][bin].sqrt();
                roots[place][side] = root as f32;
                for (k, e) in colours[side][bin].iter().enumerate() {
                    let [re, im] = &mut palette[place * n_octets + k / LANES][side];
                    (re[k % LANES], im[k % LANES]) = ((e.re * root) as f32, (e.im * root) as f32);
                }
            }
        }
        Self { colours: palette, n_octets, roots, bins }
    }

    fn octets(&self, place: usize) -> &[[[Frame; 2]; SIDES]] {
        &self.colours[place * self.n_octets..(place + 1) * self.n_octets]
    }
}

/// Equations of all frames.
pub fn equations(
    held: &Spectrogram,
    patch: &Patch,
    colours: &Colours,
    weights: &[Vec<f64>; SIDES],
) -> Equations {
    let palette = Palette::new(colours, weights, 1);
    let parts: Vec<Equations> = (0..held.n_frames().div_ceil(BLOCK))
        .into_par_iter()
        .map(|block| of_block(held, patch, &palette, block))
        .collect();
    let mut all = Equations {
        n: patch.channels.len(),
        products: Vec::new(),
        with_main: Vec::new(),
        main: Vec::new(),
        n_values: parts.first().map_or(1.0, |part| part.n_values),
    };
    for part in parts {
        all.products.extend(part.products);
        all.with_main.extend(part.with_main);
        all.main.extend(part.main);
    }
    all
}

/// Gains that a few frames share, and what each frame leaves unexplained.
pub struct Shared {
    /// For each channel, frame by frame.
    pub gains: Vec<Vec<f32>>,
    /// For each channel, frame by frame: what it gives to the mix at a gain of 1, re what is left unexplained.
    pub energy: Vec<Vec<f32>>,
    /// Frame by frame, re the usual, within bounds.
    pub noise: Vec<f32>,
}

/// A block's gains and energies, frame by frame, and its noise.
type Part = (Vec<Vec<f32>>, Vec<Vec<f32>>, Vec<f32>);

/// Gains of a few frames at a time in some blocks of frames, from every `every`th bin, and what they leave unexplained; in all
/// other frames gains are 1. `noise` holds what each frame left unexplained so far.
pub fn shared(
    held: &Spectrogram,
    patch: &Patch,
    colours: &Colours,
    weights: &[Vec<f64>; SIDES],
    noise: &[f32],
    blocks: &[usize],
    every: usize,
) -> Shared {
    let palette = Palette::new(colours, weights, every);
    let n = patch.channels.len();
    let parts: Vec<Part> = blocks
        .par_iter()
        .map(|&block| {
            let mut equations = of_block(held, patch, &palette, block);
            let noise = &noise[block * BLOCK..][..equations.n_frames()];
            equations.divide(noise);
            let (mut gains, mut energy, mut left) = (Vec::new(), Vec::new(), Vec::new());
            for start in (0..noise.len()).step_by(SHARED) {
                let end = (start + SHARED).min(noise.len());
                let found = together(&equations, start..end);
                for (frame, noise) in noise.iter().enumerate().take(end).skip(start) {
                    let left_over = equations.left_over(frame, &found) * noise;
                    left.push(left_over.clamp(NOISE[0], NOISE[1]));
                    gains.push(found.clone());
                    let products = equations.products(frame);
                    energy.push((0..n).map(|k| products[k * n + k]).collect());
                }
            }
            (gains, energy, left)
        })
        .collect();
    let mut all = Shared {
        gains: vec![vec![1.0; held.n_frames()]; n],
        energy: vec![vec![0.0; held.n_frames()]; n],
        noise: noise.to_vec(),
    };
    for (&block, (gains, energy, noise)) in blocks.iter().zip(parts) {
        for (to, from) in [(&mut all.gains, gains), (&mut all.energy, energy)] {
            for (place, frame) in from.into_iter().enumerate() {
                to.iter_mut().zip(frame).for_each(|(to, x)| to[block * BLOCK + place] = x);
            }
        }
        all.noise[block * BLOCK..][..noise.len()].copy_from_slice(&noise);
    }
    all
}

/// One gain for each channel over some frames.
fn together(equations: &Equations, frames: std::ops::Range<usize>) -> Vec<f32> {
    let n = equations.n;
    let mut products = vec![0.0f32; n * n];
    let mut with_main = vec![0.0f32; n];
    for frame in frames {
        products.iter_mut().zip(equations.products(frame)).for_each(|(sum, x)| *sum += x);
        with_main.iter_mut().zip(equations.with_main(frame)).for_each(|(sum, x)| *sum += x);
    }
    #[expect(clippy::cast_precision_loss, reason = "channels are few")]
    let mean = (0..n).map(|k| products[k * n + k]).sum::<f32>() / n.max(1) as f32;
    let hold = HOLD[0] * mean + HOLD[1];
    for channel in 0..n {
        products[channel * n + channel] += hold;
        with_main[channel] += hold;
    }
    not_negative(&products, &with_main, SWEEPS)
}

/// The solution of `products g = with_main` without negative gains, by turns of one channel after the other, from 1 on.
///
/// `products` is symmetric, row by row, with a positive diagonal.
pub fn not_negative(products: &[f32], with_main: &[f32], sweeps: usize) -> Vec<f32> {
    let n = with_main.len();
    let mut gains = vec![1.0f32; n];
    for _ in 0..sweeps {
        for channel in 0..n {
            let row = &products[channel * n..(channel + 1) * n];
            let rest = with_main[channel] - dot(row, &gains);
            gains[channel] = (gains[channel] + rest / row[channel]).max(0.0);
        }
    }
    gains
}

/// Sum of products, eight at a time.
fn dot(a: &[f32], b: &[f32]) -> f32 {
    const WIDTH: usize = 8;
    let (mut a, mut b) = (a.chunks_exact(WIDTH), b.chunks_exact(WIDTH));
    let mut sums = [0.0f32; WIDTH];
    for (a, b) in a.by_ref().zip(b.by_ref()) {
        for lane in 0..WIDTH {
            sums[lane] += a[lane] * b[lane];
        }
    }
    let rest: f32 = a.remainder().iter().zip(b.remainder()).map(|(a, b)| a * b).sum();
    sums.iter().sum::<f32>() + rest
}

/// Rows of a frame, side by side and part by part for some bins.
const N_ROWS: usize = 2 * SIDES * CHUNK;

/// The frames of a block, as they are heard through the colours.
struct Heard {
    n_panels: usize,
    /// Frame by frame, in each the panels, in each the rows. Frames lie a row farther apart than they need: so they share no lines of
    /// the cache.
    rows: Vec<Panel>,
    /// The same rows of the mix.
    mains: Vec<[f32; N_ROWS]>,
}

impl Heard {
    fn new(n: usize) -> Self {
        let n_panels = n.div_ceil(WIDE);
        let rows = vec![[0.0; WIDE]; BLOCK * (n_panels * N_ROWS + 1)];
        Self { n_panels, rows, mains: vec![[0.0; N_ROWS]; BLOCK] }
    }

    /// Puts the channels of a bin at some rows.
    fn put(&mut self, isa: Isa, octets: &[Octet], colours: &[[[Frame; 2]; SIDES]], first: usize) {
        let distance = (self.n_panels * N_ROWS + 1) * WIDE;
        let rows = self.rows.as_flattened_mut();
        let mut turned = [[0u32; LANES]; BLOCK];
        for (idx, (octet, colours)) in octets.iter().zip(colours).enumerate() {
            let (panel, lane) = (idx * LANES / WIDE, idx * LANES % WIDE);
            let rows = &mut rows[(panel * N_ROWS + first) * WIDE + lane..];
            side_by_side(isa, &octet.cells, &mut turned);
            coloured(isa, &turned, &octet.scales, colours, rows, distance);
        }
    }

    fn panels(&self, frame: usize) -> &[Panel] {
        &self.rows[frame * (self.n_panels * N_ROWS + 1)..][..self.n_panels * N_ROWS]
    }
}

/// Equations of the frames of a block.
fn of_block(held: &Spectrogram, patch: &Patch, palette: &Palette, block: usize) -> Equations {
    let n = patch.channels.len();
    let n_frames = (held.n_frames() - block * BLOCK).min(BLOCK);
    let isa = Isa::best();
    let mut heard = Heard::new(n);
    let n_panels = heard.n_panels;
    let n_pairs = n_panels * (n_panels + 1) / 2;
    let mut sums = vec![[[0.0f32; WIDE]; WIDE]; n_frames * n_pairs];
    let mut shared = vec![[0.0f64; WIDE]; n_frames * n_panels];
    let mut main = vec![0.0f32; n_frames];
    let mut staged = Staged::new(patch.channels.iter().chain(&patch.main).copied().collect());
    for start in (0..palette.bins.len()).step_by(CHUNK) {
        let bins = &palette.bins[start..(start + CHUNK).min(palette.bins.len())];
        let n_used = 2 * SIDES * bins.len();
        staged.fill(held, &[block], bins);
        for place in 0..bins.len() {
            let octets = staged.of(0, place);
            heard.put(isa, octets, palette.octets(start + place), 2 * SIDES * place);
            for side in 0..SIDES {
                let (octet, lane) = ((n + side) / LANES, (n + side) % LANES);
                let root = palette.roots[start + place][side] * octets[octet].scales[lane];
                let row = 2 * (SIDES * place + side);
                let cells = octets[octet].cells[lane].iter().zip(&mut heard.mains);
                for ((cell, mains), main) in cells.zip(&mut main) {
                    let y = cell.map(|part| f32::from(part) * root);
                    mains[row..row + 2].copy_from_slice(&y);
                    *main += y[0] * y[0] + y[1] * y[1];
                }
            }
        }
        for frame in 0..n_frames {
            let rows = |panel: usize| &heard.panels(frame)[panel * N_ROWS..][..n_used];
            let mut sums = sums[frame * n_pairs..][..n_pairs].iter_mut();
            for down in 0..n_panels {
                for (across, sums) in (down..n_panels).zip(&mut sums) {
                    add_pairs(isa, rows(down), rows(across), sums);
                }
                let with_main = weighted_sum(isa, rows(down), &heard.mains[frame][..n_used]);
                let shared = shared[frame * n_panels + down].iter_mut();
                shared.zip(with_main).for_each(|(sum, x)| *sum += f64::from(x));
            }
        }
    }
    gathered(n, &sums, &shared, main, palette.bins.len())
}

/// Whole squares from the upper halves.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_precision_loss,
    reason = "sums of products that are held as f32; bins are few"
)]
fn gathered(
    n: usize,
    sums: &[Pairs],
    shared: &[[f64; WIDE]],
    main: Vec<f32>,
    n_bins: usize,
) -> Equations {
    let n_panels = n.div_ceil(WIDE);
    let mut products = vec![0.0; main.len() * n * n];
    let of_frames = sums.chunks_exact((n_panels * (n_panels + 1) / 2).max(1));
    for (products, sums) in products.chunks_exact_mut((n * n).max(1)).zip(of_frames) {
        let mut sums = sums.iter();
        for down in (0..n).step_by(WIDE) {
            for (across, sums) in (down..n).step_by(WIDE).zip(&mut sums) {
                for a in down..n.min(down + WIDE) {
                    for b in across.max(a)..n.min(across + WIDE) {
                        let sum = sums[a - down][b - across];
                        (products[a * n + b], products[b * n + a]) = (sum, sum);
                    }
                }
            }
        }
    }
    let with_main = shared.chunks_exact(n_panels.max(1));
    let with_main = with_main.flat_map(|one| one.as_flattened()[..n].iter().map(|&x| x as f32));
    let with_main = with_main.collect();
    Equations { n, products, with_main, main, n_values: (SIDES * n_bins) as f32 }
}
