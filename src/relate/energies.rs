//! Energies of all sources in all microphones from one separation.
//!
//! Takes spectra and the ways of a separation, gives energies by microphone, source and band: as shares of what was measured, where
//! the microphone is a source's own; by least squares, where none is told apart from it. What no source explains there is
//! the microphone's own. A gain that no way can have is bounded.

use std::ops::Range;

use rayon::prelude::*;
use realfft::num_complex::Complex64;

use super::grid::N_BANDS;
use super::plausible::clean;
use super::separation::{Separation, demixed_row, halves};
use super::spectrogram::{Series, Spectrogram};
use crate::dsp::Square;
use crate::dsp::dot::dot;
use crate::dsp::percentile::percentile;

/// Share of a frame in which the source has to sound for the frame to count.
const PRESENT: f32 = 0.1;

/// Load on the least squares of microphones without a source, re the mean power of the sources.
const LOAD: f64 = 1e-5;

/// How much greater than the median of its band the gain of a bin may be: in a field without any direct sound one of 256 is.
const MOST_GAIN: f64 = 8.0;

/// Frames whose products are summed before they are widened.
const SUB_SUM: usize = 256;

/// A microphone that may hear sources that are not its own.
#[derive(Clone, Debug, PartialEq)]
pub struct Mic {
    /// Its channel.
    pub channel: usize,
    /// Place of its own source among the separated ones.
    pub own: Option<usize>,
    /// Sources that are this microphone's too, or share one signal with it: no spill.
    pub kin: Vec<usize>,
}

/// Energies by microphone, source and band.
pub type Sources = Vec<Vec<Vec<f64>>>;

/// Energies of all sources in all microphones from one separation.
pub struct Energies {
    /// From all frames.
    pub(super) all: Sources,
    /// From every other part of them.
    pub(super) halves: [Sources; 2],
    /// Measured energy of each microphone.
    pub(super) heard: Vec<f64>,
}

impl Energies {
    /// Power gain of a source from its own microphone to another, by band; both by their places among the microphones.
    #[expect(clippy::cast_possible_truncation, reason = "gains are held as f32")]
    pub fn gains(&self, source: usize, home: usize, mic: usize) -> Vec<f32> {
        let (from, to) = (&self.all[home][source], &self.all[mic][source]);
        from.iter().zip(to).map(|(from, to)| (to / (from + 1e-30)) as f32).collect()
    }

    /// Energy of a source in a microphone, by its place among the microphones, over all bands.
    pub fn level(&self, mic: usize, source: usize) -> f64 {
        self.all[mic][source].iter().sum()
    }

    /// Energies from a separation; `presence` by source and frame of the spectrogram.
    pub fn new(
        spectrogram: &Spectrogram,
        separation: &Separation,
        presence: &[Vec<f32>],
        mics: &[Mic],
    ) -> Self {
        let n_bins = spectrogram.grid().bins().len();
        let of_bins: Vec<Bin> = (0..n_bins)
            .into_par_iter()
            .map(|bin| of_bin(spectrogram, separation, presence, mics, bin))
            .collect();
        let measured: Vec<Vec<f64>> =
            mics.par_iter().map(|mic| band_energy(spectrogram, mic.channel)).collect();
        let grid = spectrogram.grid();
        let of = |which: usize| {
            let mut energies = vec![vec![vec![0.0; N_BANDS]; presence.len()]; mics.len()];
            for (place, (mic, of_mic)) in mics.iter().zip(&mut energies).enumerate() {
                for (source, of_source) in of_mic.iter_mut().enumerate() {
                    for (band, energy) in of_source.iter_mut().enumerate() {
                        let bins = &of_bins[grid.band(band)];
                        #[expect(clippy::cast_precision_loss, reason = "counts of bins are small")]
                        let per_kept = grid.n_in_band(band) as f64 / bins.len().max(1) as f64;
                        let kept = in_band(bins, |bin| bin.gains[which][place][source], source);
                        *energy = (per_kept * kept).max(0.0);
                    }
                }
                // Where the microphone is a source's own, the sources share what was measured.
                if separation.references.contains(&mic.channel) {
                    share(of_mic, &measured[place]);
                } else if let Some(own) = mic.own {
                    give_rest(of_mic, own, &measured[place]);
                }
            }
            clean(&mut energies, mics, &separation.references, &measured);
            energies
        };
        let heard = measured.iter().map(|bands| bands.iter().sum()).collect();
        Self { all: of(0), halves: [of(1), of(2)], heard }
    }
}

/// Power gains of all ways in a bin, by microphone and source: from all frames and from each half; and the energies of the sources.
struct Bin {
    gains: [Vec<Vec<f64>>; 3],
    energies: Vec<f64>,
}

/// Energy of a source in the kept bins of a band, by its gains on a way. A bin whose gain stands far over the others' isn't that of
/// a way, but one in which it was not told apart.
fn in_band(bins: &[Bin], gain: impl Fn(&Bin) -> f64, source: usize) -> f64 {
    let gains: Vec<f64> = bins.iter().map(gain).collect();
    let most = MOST_GAIN * percentile(&gains, 0.5).unwrap_or(0.0);
    bins.iter().zip(&gains).map(|(bin, gain)| gain.min(most) * bin.energies[source]).sum()
}

/// Scales the sources of a microphone so that their sum is what was measured, band by band.
fn share(sources: &mut [Vec<f64>], measured: &[f64]) {
    for (band, measured) in measured.iter().enumerate() {
        let sum: f64 = sources.iter().map(|source| source[band]).sum();
        if sum > 0.0 {
            sources.iter_mut().for_each(|source| source[band] *= measured / sum);
        }
    }
}

/// Gives a microphone's own source what no source explains there, band by band: of many singers, or of the other side of a drum, a
/// second microphone hears much that the first does not.
fn give_rest(sources: &mut [Vec<f64>], own: usize, measured: &[f64]) {
    for (band, measured) in measured.iter().enumerate() {
        let sum: f64 = sources.iter().map(|source| source[band]).sum();
        sources[own][band] += (measured - sum).max(0.0);
    }
}

/// Energy of a channel by band.
#[expect(clippy::cast_precision_loss, reason = "counts of bins are small")]
pub(super) fn band_energy(spectrogram: &Spectrogram, channel: usize) -> Vec<f64> {
    let powers = spectrogram.band_power(channel);
    let n_in_band = |band| spectrogram.grid().n_in_band(band) as f64;
    powers
        .iter()
        .enumerate()
        .map(|(band, power)| n_in_band(band) * power.iter().map(|&x| f64::from(x)).sum::<f64>())
        .collect()
}

/// The gains of one bin.
fn of_bin(
    spectrogram: &Spectrogram,
    separation: &Separation,
    presence: &[Vec<f32>],
    mics: &[Mic],
    bin: usize,
) -> Bin {
    let n_frames = spectrogram.n_frames();
    let heard: Vec<Series> =
        separation.references.iter().map(|&channel| spectrogram.series(channel, bin)).collect();
    let demix = &separation.demix[bin];
    let mut sources: Vec<Series> =
        (0..demix.n()).map(|row| demixed_row(demix.row(row), &heard)).collect();
    sources.iter_mut().for_each(|source| source.silence(spectrogram.left_out()));
    let energy = |source: usize| -> f64 {
        let Series { re, im } = &sources[source];
        let frames = re.iter().zip(im).zip(&presence[source]);
        frames.filter(|(_, p)| **p > PRESENT).map(|((x, y), _)| f64::from(x * x + y * y)).sum()
    };
    let energies: Vec<f64> = (0..sources.len()).map(energy).collect();
    let frames = halves(n_frames);
    let grams = [0, 1].map(|half| gram(&sources, &frames[half]));
    let of_mic = |mic: &Mic| -> [Vec<f64>; 3] {
        let place = separation.references.iter().position(|&c| c == mic.channel);
        let [whole, even, odd]: [Vec<f64>; 3] = if let Some(row) = place {
            let [even, odd] = &separation.halves;
            [&separation.mix, even, odd]
                .map(|mix| mix[bin].row(row).iter().map(|way| way.norm_sqr()).collect())
        } else {
            let heard = spectrogram.series(mic.channel, bin);
            let [even, odd] =
                [0, 1].map(|half| fitted(&grams[half], &sources, &heard, &frames[half]));
            // Chance fits both halves, but not alike: the product of the two is without bias.
            let whole = even.iter().zip(&odd).map(|(a, b)| (a * b.conj()).re).collect();
            let [even, odd] =
                [even, odd].map(|ways| ways.iter().map(|way| way.norm_sqr()).collect());
            [whole, even, odd]
        };
        [whole, even, odd]
    };
    let (mut whole, mut even, mut odd) = (Vec::new(), Vec::new(), Vec::new());
    for mic in mics {
        let [of_whole, of_even, of_odd] = of_mic(mic);
        whole.push(of_whole);
        even.push(of_even);
        odd.push(of_odd);
    }
    Bin { gains: [whole, even, odd], energies }
}

/// Inner product of two series over some stretches.
fn inner(a: &Series, b: &Series, stretches: &[Range<usize>]) -> Complex64 {
    let (mut re, mut im) = (0.0f64, 0.0f64);
    for at in stretches.iter().flat_map(|stretch| parts(stretch, SUB_SUM)) {
        let of = |one: &[f32], other: &[f32]| f64::from(dot(&one[at.clone()], &other[at.clone()]));
        re += of(&a.re, &b.re) + of(&a.im, &b.im);
        im += of(&a.im, &b.re) - of(&a.re, &b.im);
    }
    Complex64::new(re, im)
}

/// A range in parts of at most some length.
fn parts(range: &Range<usize>, length: usize) -> impl Iterator<Item = Range<usize>> {
    let end = range.end;
    range.clone().step_by(length).map(move |start| start..(start + length).min(end))
}

/// Conjugate products of the sources, loaded.
#[expect(clippy::cast_precision_loss, reason = "sources are few")]
fn gram(sources: &[Series], stretches: &[Range<usize>]) -> Square {
    let n = sources.len();
    let mut gram = Square::zero(n);
    for i in 0..n {
        for j in i..n {
            let product = inner(&sources[j], &sources[i], stretches);
            *gram.at_mut(i, j) = product;
            *gram.at_mut(j, i) = product.conj();
        }
    }
    let load = LOAD * (0..n).map(|i| gram.at(i, i).re).sum::<f64>() / n.max(1) as f64;
    (0..n).for_each(|i| *gram.at_mut(i, i) += load + 1e-20);
    gram
}

/// The ways that explain a microphone best.
fn fitted(
    gram: &Square,
    sources: &[Series],
    heard: &Series,
    stretches: &[Range<usize>],
) -> Vec<Complex64> {
    let products: Vec<Complex64> =
        sources.iter().map(|source| inner(heard, source, stretches)).collect();
    gram.solve(&products).unwrap_or_else(|| vec![Complex64::default(); sources.len()])
}
