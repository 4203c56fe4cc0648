//! # Change of way
//!
//! When a channel's way through the desk was changed within a section: its tone or its pan.
//!
//! - **Formula:** with what all channels together leave of a side of the mix in a bin, `r(t)`, and a raw channel `x(t)`: for each border
//!   `c` between blocks `|S_<|^2/W_< + |S_>|^2/W_> - |S|^2/W`, `S = sum r x*`, `W = sum |x|^2` before it, behind it and over all; summed over
//!   bins and sides. The way was changed at the `c` of the largest sum, if that is a fiftieth of what the channel gives, three tenths
//!   of all that is left, and three times what chance makes
//! - **Unit:** s
//! - **Range:** within the section
//! - **Source:** the likelihood ratio for one change of a regression (R. Quandt, JASA 53, 1958, from memory); bounds are own trials on
//!   simulated desks, where nothing but changes and parts that were not recorded made more than a 250th; the latter made up to a
//!   quarter of what is left, changes half of it
//! - **Window:** a section of up to two minutes, blocks of 0.7 s
//! - **No value:** none was changed, or too little to tell
//! - **Misleads when:** it was changed more than once: the largest change is told

use rayon::prelude::*;
use realfft::num_complex::Complex32;

use super::blend::Blend;
use super::colour::{Patch, SIDES};
use super::grid::N_BANDS;
use super::shares::single;
use super::spectrogram::{BLOCK, Series, Spectrogram};

/// What a change explains, re what the channel gives, re the whole mix, and re all that is left of it: a part that was not recorded comes
/// and goes in many microphones, and explains a quarter of it in each at the most.
const OF_CHANNEL: f64 = 0.02;
const OF_MIX: f64 = 0.003;
const OF_REST: f64 = 0.3;

/// What it explains, re what it would by chance.
const OVER_CHANCE: f64 = 3.0;

/// A part more explains by chance as much as this many frames leave: neighbouring frames overlap.
const BY_CHANCE: f64 = 2.0;

/// Least part of a channel's power that tells of its way.
const LEAST_PART: f64 = 1e-6;

/// Sums over bins of a channel.
#[derive(Clone, Debug)]
struct Sums {
    /// What a change at the begin of each block explains.
    explained: Vec<f64>,
    by_chance: f64,
    given: f64,
    main: f64,
    rest: f64,
}

impl Sums {
    fn new(n_blocks: usize) -> Self {
        Self { explained: vec![0.0; n_blocks], by_chance: 0.0, given: 0.0, main: 0.0, rest: 0.0 }
    }

    fn add(mut self, other: &Self) -> Self {
        self.explained.iter_mut().zip(&other.explained).for_each(|(sum, one)| *sum += one);
        self.by_chance += other.by_chance;
        self.given += other.given;
        self.main += other.main;
        self.rest += other.rest;
        self
    }

    /// The block with which a change begins.
    fn change(&self) -> Option<usize> {
        let all = self.explained.iter().enumerate();
        let (block, &explained) = all.max_by(|a, b| a.1.total_cmp(b.1))?;
        let is_one = explained > OVER_CHANCE * self.by_chance
            && explained > OF_CHANNEL * self.given
            && explained > OF_MIX * self.main
            && explained > OF_REST * self.rest;
        is_one.then_some(block)
    }
}

/// For each channel the frame with which its way changes, if it does. `gains` are those of each channel, frame by frame, 0 where it is
/// closed.
pub fn torn(
    held: &Spectrogram,
    patch: &Patch,
    blend: &Blend,
    gains: &[Vec<f32>],
) -> Vec<Option<usize>> {
    let n = patch.channels.len();
    let n_blocks = held.n_frames().div_ceil(BLOCK);
    let none = || vec![Sums::new(n_blocks); n];
    let sums = (0..N_BANDS)
        .into_par_iter()
        .map(|band| {
            let mut sums = none();
            let bins = held.grid().band(band);
            #[expect(clippy::cast_precision_loss, reason = "a band holds some tens of bins")]
            let stands_for = held.grid().n_in_band(band) as f64 / bins.len().max(1) as f64;
            for bin in bins {
                of_bin(held, patch, blend, gains, bin, stands_for, &mut sums);
            }
            sums
        })
        .reduce(none, |all, more| {
            all.into_iter().zip(&more).map(|(all, more)| all.add(more)).collect()
        });
    sums.iter().map(|sums| sums.change().map(|block| block * BLOCK)).collect()
}

/// Adds what a bin says of all channels.
fn of_bin(
    held: &Spectrogram,
    patch: &Patch,
    blend: &Blend,
    gains: &[Vec<f32>],
    bin: usize,
    stands_for: f64,
    sums: &mut [Sums],
) {
    let n_frames = held.n_frames();
    let raw: Vec<Series> =
        patch.channels.iter().map(|&channel| held.series(channel, bin)).collect();
    for side in 0..SIDES {
        let mut rest = held.series(patch.main[side], bin);
        let main = rest.power();
        let colours = single(&blend.colours[side][bin]);
        for (k, raw) in raw.iter().enumerate() {
            let given = take(&mut rest, raw, colours[k], &gains[k]);
            sums[k].given += stands_for * given;
            sums[k].main += stands_for * main;
        }
        let left = stands_for * rest.power();
        #[expect(clippy::cast_precision_loss, reason = "a section has some thousand frames")]
        let by_chance = BY_CHANCE * left / n_frames.max(1) as f64;
        for (sums, raw) in sums.iter_mut().zip(&raw) {
            sums.by_chance += by_chance;
            sums.rest += left;
            add_changes(&rest, raw, stands_for, &mut sums.explained);
        }
    }
}

/// Takes what a channel gives from what is left; gives the power of that.
fn take(rest: &mut Series, raw: &Series, colour: Complex32, gains: &[f32]) -> f64 {
    let mut given = 0.0;
    for (t, gain) in gains.iter().enumerate() {
        let part = colour * Complex32::new(raw.re[t], raw.im[t]) * gain;
        rest.re[t] -= part.re;
        rest.im[t] -= part.im;
        given += f64::from(part.norm_sqr());
    }
    given
}

/// Adds what changes at the begin of each block explain.
fn add_changes(rest: &Series, raw: &Series, weight: f64, explained: &mut [f64]) {
    let of_block = |first: usize| {
        let (mut shared, mut power) = (Complex32::default(), 0.0);
        for t in first..(first + BLOCK).min(raw.len()) {
            let x = Complex32::new(raw.re[t], raw.im[t]);
            shared += Complex32::new(rest.re[t], rest.im[t]) * x.conj();
            power += f64::from(x.norm_sqr());
        }
        (shared, power)
    };
    let blocks: Vec<(Complex32, f64)> = (0..raw.len()).step_by(BLOCK).map(of_block).collect();
    let all: Complex32 = blocks.iter().map(|one| one.0).sum();
    let all_power: f64 = blocks.iter().map(|one| one.1).sum();
    let part = |sum: Complex32, power: f64| {
        if power > LEAST_PART * all_power { f64::from(sum.norm_sqr()) / power } else { 0.0 }
    };
    let whole = part(all, all_power);
    let (mut before, mut before_power) = (Complex32::default(), 0.0);
    for (explained, block) in explained.iter_mut().zip(&blocks) {
        let behind = part(all - before, (all_power - before_power).max(0.0));
        *explained += weight * (part(before, before_power) + behind - whole).max(0.0);
        before += block.0;
        before_power += block.1;
    }
}
