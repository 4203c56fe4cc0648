//! # Spill
//!
//! How loud each source is in microphones that are not its own.
//!
//! - **Formula:** with the ways `A` and the sources `y` of a separation in frames longer than the hall's early sound, energy of source `j` in
//!   microphone `i` by band `sum |A_ij|^2 sum |y_j|^2`, as its share of all sources there times the measured energy; bleed: level of the
//!   source while it sounds minus level of the microphone's own source while that sounds; transfer: energy of the source there over
//!   its energy in its own microphone. For microphones that no source is told apart from, `A` by least squares; what no
//!   source explains there is the microphone's own. Told is the middle one of three: by long frames, by shorter ones, and by powers
//!   that follow each other
//! - **Unit:** dB
//! - **Source:** own trials on simulated stages (see the accuracy of what microphones share)
//! - **Window:** chosen minutes, the same for all pairs
//! - **No value:** less than 5 s of the source, or 3 s of the microphone's own; two channels that carry one signal; a bound only
//!   where the estimates differ, where the source hardly ever sounds without the microphone's own, where it arrives at no time that
//!   stands out, and where the two channels are 6.5 dB less coherent than such spill makes them
//! - **Misleads when:** a source is quieter in its own microphone than the spill there: its figures come out too high, and are
//!   given as bounds

use std::ops::Range;

use rayon::prelude::*;
use realfft::num_complex::Complex64;

use super::excess::Gate;
use super::grid::{N_BANDS, bands_between};
use super::separation::{Bands, Separation, demixed_row, halves};
use super::spectrogram::{Series, Spectrogram};
use super::verdict::{Evidence, Verdict};
use crate::dsp::Square;
use crate::dsp::dot::dot;
use crate::unit::{Fact, Unmeasured};

/// Least time of the source, in seconds.
const NEEDS_S: f64 = 5.0;

/// Share of a frame in which the source has to sound for the frame to count.
const PRESENT: f32 = 0.1;

/// Below this, in dB, nothing was tried: a bound is given.
const LOWEST_DB: f64 = -25.0;

/// The same for transfers: microphones have different gains.
const LOWEST_TRANSFER_DB: f64 = -40.0;

/// Least time of the microphone's own source, in seconds: of a few strokes its level depends on how long they are said to ring.
const OWN_S: f64 = 3.0;

/// Where cymbals and breath lie, in Hz.
const TREBLE_HZ: [f64; 2] = [6000.0, 20_000.0];

/// Load on the least squares of microphones without a source, re the mean power of the sources.
const LOAD: f64 = 1e-5;

/// Frames whose products are summed before they are widened.
const SUB_SUM: usize = 256;

/// How loud a source is in a microphone.
#[derive(Clone, Debug, PartialEq)]
pub struct Bleed {
    /// The source: its place among the separated ones.
    pub source: usize,
    /// Channel of the microphone.
    pub mic: usize,
    /// Level there minus that of the microphone's own source there.
    pub bleed_db: Fact,
    /// The same above 5.6 kHz.
    pub treble_bleed_db: Fact,
    /// Level there minus level in its own microphone.
    pub transfer_db: Fact,
}

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

/// When sources sound in the chosen minutes.
#[derive(Clone, Debug, PartialEq)]
pub struct Turns {
    /// How long each source sounds, in seconds.
    active_s: Vec<f64>,
    /// How long each source sounds while another rests, in seconds.
    alone_s: Vec<Vec<f64>>,
}

impl Turns {
    /// Turns from whether each source sounds in each frame, `hop_s` apart.
    #[expect(clippy::cast_precision_loss, reason = "a count of frames is far below 2^52")]
    pub fn new(sounds: &[Vec<bool>], hop_s: f64) -> Self {
        let seconds = |n: usize| n as f64 * hop_s;
        let alone = |one: &[bool], other: &[bool]| {
            seconds(one.iter().zip(other).filter(|(one, other)| **one && !**other).count())
        };
        Self {
            active_s: sounds
                .iter()
                .map(|one| seconds(one.iter().filter(|&&sounds| sounds).count()))
                .collect(),
            alone_s: sounds
                .iter()
                .map(|one| sounds.iter().map(|other| alone(one, other)).collect())
                .collect(),
        }
    }
}

/// Energies by microphone, source and band.
type Sources = Vec<Vec<Vec<f64>>>;

/// Energies of all sources in all microphones from one separation.
pub struct Energies {
    /// From all frames.
    all: Sources,
    /// From every other part of them.
    halves: [Sources; 2],
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
        let of_bins: Vec<[Vec<Vec<f64>>; 3]> = (0..n_bins)
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
                        let bins = grid.band(band);
                        let kept: f64 =
                            bins.clone().map(|bin| of_bins[bin][which][place][source]).sum();
                        #[expect(clippy::cast_precision_loss, reason = "counts of bins are small")]
                        let per_kept = grid.n_in_band(band) as f64 / bins.len().max(1) as f64;
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
            energies
        };
        Self { all: of(0), halves: [of(1), of(2)] }
    }
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
fn band_energy(spectrogram: &Spectrogram, channel: usize) -> Vec<f64> {
    let powers = spectrogram.band_power(channel);
    let n_in_band = |band| spectrogram.grid().n_in_band(band) as f64;
    powers
        .iter()
        .enumerate()
        .map(|(band, power)| n_in_band(band) * power.iter().map(|&x| f64::from(x)).sum::<f64>())
        .collect()
}

/// Energies in one bin, by microphone and source: from all frames and from each half.
fn of_bin(
    spectrogram: &Spectrogram,
    separation: &Separation,
    presence: &[Vec<f32>],
    mics: &[Mic],
    bin: usize,
) -> [Vec<Vec<f64>>; 3] {
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
            .map(|gains| gains.iter().zip(&energies).map(|(gain, energy)| gain * energy).collect())
    };
    let (mut whole, mut even, mut odd) = (Vec::new(), Vec::new(), Vec::new());
    for mic in mics {
        let [of_whole, of_even, of_odd] = of_mic(mic);
        whole.push(of_whole);
        even.push(of_even);
        odd.push(of_odd);
    }
    [whole, even, odd]
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

/// The second estimate: powers that follow each other.
pub struct Powers<'a> {
    /// Thinned spectra of short frames.
    pub spectrogram: &'a Spectrogram,
    /// Powers of the sources in them.
    pub sources: &'a Bands,
    /// How each microphone follows them, in the order of the microphones.
    pub gates: &'a [Option<Gate>],
}

impl Powers<'_> {
    /// Energies in a microphone by source and band, and its own; `None` where it has no gate.
    #[expect(clippy::cast_precision_loss, reason = "counts of bins are small")]
    fn of(&self, place: usize, mic: &Mic) -> Option<(Vec<Vec<f64>>, f64)> {
        let gate = self.gates[place].as_ref()?;
        let grid = self.spectrogram.grid();
        let energy = |source: usize, band: usize| {
            let power: f64 = self.sources[band][source].iter().map(|&x| f64::from(x)).sum();
            gate.gain(band, source) * power * grid.n_in_band(band) as f64
        };
        let n_sources = self.sources.first().map_or(0, Vec::len);
        let energies: Vec<Vec<f64>> = (0..n_sources)
            .map(|source| (0..N_BANDS).map(|band| energy(source, band)).collect())
            .collect();
        let heard: f64 = band_energy(self.spectrogram, mic.channel).iter().sum();
        let spilled: f64 = energies.iter().flatten().sum();
        Some((energies, (heard - spilled).max(0.02 * heard)))
    }
}

/// Spill of every source in every microphone that is not its own.
///
pub fn bleeds(
    mics: &[Mic],
    references: &[usize],
    long: &Energies,
    middle: &Energies,
    powers: &Powers<'_>,
    turns: &Turns,
) -> Vec<Bleed> {
    let mut bleeds = Vec::new();
    for (place, mic) in mics.iter().enumerate() {
        let second = powers.of(place, mic);
        for (source, &reference) in references.iter().enumerate() {
            if mic.own == Some(source) || mic.kin.contains(&source) || reference == mic.channel {
                continue;
            }
            let Some(home) = mics.iter().position(|mic| mic.channel == reference) else { continue };
            let pair = Pair { place, own: mic.own, source, home };
            bleeds.push(one(&pair, mic.channel, long, middle, second.as_ref(), turns));
        }
    }
    bleeds
}

/// A source and a microphone.
struct Pair {
    /// The microphone, and its own source.
    place: usize,
    own: Option<usize>,
    source: usize,
    /// The source's own microphone.
    home: usize,
}

impl Pair {
    /// Level of the source re the own one, while each sounds; re 1 where the microphone has none.
    fn bleed_db(&self, energies: &Sources, active_s: &[f64], bands: &Range<usize>) -> f64 {
        let sum = |source: usize| energies[self.place][source][bands.clone()].iter().sum::<f64>();
        let own = self.own.map_or(1.0, |own| sum(own) / active_s[own].max(0.1));
        ratio_db(sum(self.source) / active_s[self.source].max(0.1), own)
    }

    /// The same by powers that follow each other.
    fn second_db(&self, (energies, own): &(Vec<Vec<f64>>, f64), active_s: &[f64]) -> f64 {
        let spilled = energies[self.source].iter().sum::<f64>() / active_s[self.source].max(0.1);
        ratio_db(spilled, self.own.map_or(1.0, |idx| own / active_s[idx].max(0.1)))
    }

    /// How much of what the source's own microphone hears is the source.
    fn purity_db(&self, energies: &Sources) -> f64 {
        let home = &energies[self.home];
        ratio_db(home[self.source].iter().sum(), home.iter().flatten().sum())
    }

    fn transfer_db(&self, energies: &Sources) -> f64 {
        let at = |place: usize| energies[place][self.source].iter().sum::<f64>();
        ratio_db(at(self.place), at(self.home))
    }
}

fn ratio_db(a: f64, b: f64) -> f64 {
    10.0 * ((a + 1e-30) / (b + 1e-30)).log10()
}

fn one(
    pair: &Pair,
    mic: usize,
    long: &Energies,
    middle: &Energies,
    second: Option<&(Vec<Vec<f64>>, f64)>,
    turns: &Turns,
) -> Bleed {
    let source = pair.source;
    let active_s = turns.active_s.as_slice();
    if active_s[source] < NEEDS_S {
        let have_s = active_s[source];
        let why = Fact::missing(Unmeasured::TooLittleActive { have_s, need_s: NEEDS_S });
        return Bleed {
            source,
            mic,
            bleed_db: why.clone(),
            treble_bleed_db: why.clone(),
            transfer_db: why,
        };
    }
    let level = |energies: &Sources| pair.bleed_db(energies, active_s, &(0..N_BANDS));
    let long_db = level(&long.all);
    let verdict = Verdict::new(&Evidence {
        long_db,
        middle_db: level(&middle.all),
        by_powers_db: second.map(|second| pair.second_db(second, active_s)),
        halves_db: level(&long.halves[0]) - level(&long.halves[1]),
        purity_db: pair.purity_db(&long.all),
        alone_share: pair.own.map_or(1.0, |own| turns.alone_s[source][own] / active_s[source]),
    });
    // What long frames alone tell moves along with the level.
    let moved_db = verdict.level_db - long_db;
    let re_own = |value_db: f64| match pair.own {
        Some(own) if active_s[own] < OWN_S => {
            Fact::missing(Unmeasured::TooLittleActive { have_s: active_s[own], need_s: OWN_S })
        }
        Some(_) => verdict.fact(value_db, LOWEST_DB),
        None => Fact::missing(Unmeasured::NO_OWN_SOURCE),
    };
    let treble = bands_between(TREBLE_HZ[0], TREBLE_HZ[1]);
    let treble_db = pair.bleed_db(&long.all, active_s, &treble);
    let transfer_db = pair.transfer_db(&long.all);
    Bleed {
        source,
        mic,
        bleed_db: re_own(verdict.level_db),
        treble_bleed_db: re_own(treble_db + moved_db),
        transfer_db: verdict.fact(transfer_db + moved_db, LOWEST_TRANSFER_DB),
    }
}
