//! # Extra delay of a channel on the desk
//!
//! How much later a channel enters the mix than the others, and whether upright or inverted.
//!
//! - **Formula:** from the factors `E(f)` of each kept bin by itself, the lag `d` within 21 ms with the largest `(|S_left| + |S_right|) / sum w`,
//!   `S = sum w E/|E| exp(j 2 pi f d)` over the bins of a side, where `w` is the root of the channel's share of the side in the bin; polarity: sign
//!   of the real part of both `S` over 200 Hz to 2 kHz
//! - **Unit:** samples, positive: later; 1 or -1
//! - **Range:** within 1024 samples at 48 kHz
//! - **Source:** own trial; the phase of a delay is a straight line
//! - **Window:** half a minute or more
//! - **No value:** a peak of 0.5 or less; 0.8 or less for a channel that seems earlier than the others
//! - **Misleads when:** a filter of the desk delays the whole band of the channel: its own delay is in the figure

use realfft::num_complex::Complex64;

use super::colour::{Colours, Products};
use super::grid::Grid;

/// Farthest delay, in frames.
const FAR: f64 = 0.25;

/// Least peak.
const NEEDS_PEAK: f64 = 0.5;

/// A desk delays, it brings nothing forward: what was not recorded, and is heard late in a microphone, looks like an early channel.
/// One that seems earlier than this, in samples, has to show this peak.
const EARLY: f64 = 2.0;
const EARLY_NEEDS_PEAK: f64 = 0.8;

/// Steps to a sample.
const STEPS: f64 = 4.0;

/// Where polarity is told, in Hz.
const SIGN_HZ: [f64; 2] = [200.0, 2000.0];

/// Extra delay of a channel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Insert {
    /// How much later it enters the mix, in samples.
    pub samples: f64,
    /// 1 or -1.
    pub polarity: f64,
    /// Height of the peak, 0 to 1.
    pub peak: f64,
}

/// Extra delay of each channel, if it can be told. `colours` are those of each bin by itself.
pub fn inserts(grid: &Grid, products: &[Products], colours: &Colours) -> Vec<Option<Insert>> {
    let n = products.first().map_or(0, |one| one.channels.n());
    (0..n)
        .map(|channel| {
            let found = insert(grid, products, colours, channel)?;
            let needs = if found.samples < -EARLY { EARLY_NEEDS_PEAK } else { NEEDS_PEAK };
            (found.peak > needs).then_some(found)
        })
        .collect()
}

/// What a bin says of a channel on a side: how far a lag of a sample turns it, the phase of its factor, and its weight.
type Said = (f64, Complex64, f64);

fn said(
    grid: &Grid,
    products: &[Products],
    colours: &Colours,
    side: usize,
    channel: usize,
) -> Vec<Said> {
    let turn = std::f64::consts::TAU / grid.frame() as f64;
    let bins = grid.bins().iter().zip(products).zip(&colours[side]);
    bins.filter_map(|((&bin, one), colours)| {
        let factor = colours[channel];
        let given = factor.norm_sqr() * one.channels.at(channel, channel).re;
        let is_there = given > 0.0 && one.main[side] > 0.0;
        let weight = (given / one.main[side]).min(1.0).sqrt();
        is_there.then(|| (bin as f64 * turn, factor / factor.norm(), weight))
    })
    .collect()
}

#[expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    reason = "lags of some thousand steps"
)]
fn insert(grid: &Grid, products: &[Products], colours: &Colours, channel: usize) -> Option<Insert> {
    let sides = [0, 1].map(|side| said(grid, products, colours, side, channel));
    let all: f64 = sides.iter().flatten().map(|bin| bin.2).sum();
    let far = (FAR * grid.frame() as f64 * STEPS) as i32;
    // Each step turns each bin on by as much again.
    let mut turned = sides.each_ref().map(|bins| {
        let begin = |&(turn, phase, weight): &Said| {
            let from = turn * f64::from(-far) / STEPS;
            (phase * Complex64::cis(from) * weight, Complex64::cis(turn / STEPS))
        };
        bins.iter().map(begin).collect::<Vec<(Complex64, Complex64)>>()
    });
    let mut best = (0.0, 0.0);
    for samples in (-far..=far).map(|step| f64::from(step) / STEPS) {
        let sum_of = |bins: &Vec<(Complex64, Complex64)>| {
            bins.iter().map(|bin| bin.0).sum::<Complex64>().norm()
        };
        let sum: f64 = turned.iter().map(sum_of).sum();
        if sum > best.1 {
            best = (samples, sum);
        }
        turned.iter_mut().flatten().for_each(|(turned, step)| *turned *= *step);
    }
    let bin_hz = f64::from(grid.rate_hz()) / std::f64::consts::TAU;
    let upright: f64 = sides
        .iter()
        .flatten()
        .filter(|bin| (SIGN_HZ[0]..SIGN_HZ[1]).contains(&(bin.0 * bin_hz)))
        .map(|&(turn, phase, weight)| (phase * Complex64::cis(turn * best.0)).re * weight)
        .sum();
    let polarity = if upright < 0.0 { -1.0 } else { 1.0 };
    (all > 0.0).then(|| Insert { samples: best.0, polarity, peak: best.1 / all })
}
