//! # Spill
//!
//! How loud each source is in microphones that are not its own.
//!
//! - **Formula:** with the ways `A` and the sources `y` of a separation in frames longer than the hall's early sound, energy of source `j` in
//!   microphone `i` by band `sum |A_ij|^2 sum |y_j|^2`, as its share of all sources there times the measured energy; bleed: level of the
//!   source while it sounds minus level of the microphone's own source while that sounds; transfer: energy of the source there over
//!   its energy in its own microphone. For microphones that no source is told apart from, `A` by least squares; what no
//!   source explains there is the microphone's own. Bands in which a source is not clear in its own microphone don't count, and
//!   none counts for 4 dB more than those around it. The same by shorter frames, and by powers that follow each other, bear it out
//! - **Unit:** dB
//! - **Source:** own trials on simulated stages (see the accuracy of what microphones share)
//! - **Window:** chosen minutes, the same for all pairs
//! - **No value:** less than 5 s of the source, or 3 s of the microphone's own; two channels that carry one signal; a bound only
//!   where the estimates differ more than the way the source arrives bears out, and where the two channels are 6.5 dB less coherent
//!   than such spill makes them
//! - **Misleads when:** a source is quieter in its own microphone than the spill there: its figures come out too high, and are
//!   given as bounds

use std::ops::Range;

use super::energies::{Energies, Mic, Sources, band_energy};
use super::excess::Gate;
use super::grid::{N_BANDS, bands_between};
use super::separation::Bands;
use super::spectrogram::Spectrogram;
use super::verdict::{Agreement, Arrives, Evidence, confidence, fact, is_coherent};
use crate::unit::{Fact, Unmeasured};

/// Least time of the source, in seconds.
const NEEDS_S: f64 = 5.0;

/// Below this, in dB, nothing was tried: a bound is given.
const LOWEST_DB: f64 = -25.0;

/// The same for transfers: microphones have different gains.
const LOWEST_TRANSFER_DB: f64 = -40.0;

/// Least time of the microphone's own source, in seconds: of a few strokes its level depends on how long they are said to ring.
const OWN_S: f64 = 3.0;

/// Where cymbals and breath lie, in Hz.
const TREBLE_HZ: [f64; 2] = [6000.0, 20_000.0];

/// How loud a source is in a microphone.
#[derive(Clone, Debug, PartialEq)]
pub struct Bleed {
    /// The source: its place among the separated ones.
    pub source: usize,
    /// Channel of the microphone.
    pub mic: usize,
    /// What was estimated.
    estimate: Result<Estimate, Unmeasured>,
}

/// Levels, in dB, and how well the estimates of the first agree.
#[derive(Clone, Debug, PartialEq)]
struct Estimate {
    bleed_db: Result<f64, Unmeasured>,
    treble_bleed_db: Result<f64, Unmeasured>,
    transfer_db: f64,
    agreement: Agreement,
    over_db: f64,
}

/// What is told of how loud a source is in a microphone.
#[derive(Clone, Debug, PartialEq)]
pub struct Levels {
    /// Level there minus that of the microphone's own source there.
    pub bleed_db: Fact,
    /// The same above 5.6 kHz.
    pub treble_bleed_db: Fact,
    /// Level there minus level in its own microphone.
    pub transfer_db: Fact,
}

impl Bleed {
    /// What is told where the source arrives so; `coherent_share`: how coherent its own microphone and the other are, if that is known.
    pub fn levels(&self, arrives: Arrives, coherent_share: Option<f64>) -> Levels {
        let estimate = match &self.estimate {
            Ok(estimate) => estimate,
            Err(why) => {
                let missing = || Fact::missing(why.clone());
                return Levels {
                    bleed_db: missing(),
                    treble_bleed_db: missing(),
                    transfer_db: missing(),
                };
            }
        };
        let is_coherent = |db: &f64| coherent_share.is_none_or(|share| is_coherent(*db, share));
        let is_borne_out = estimate.bleed_db.as_ref().map_or(true, is_coherent);
        let confidence = confidence(estimate.agreement, arrives).filter(|_| is_borne_out);
        let level = |db: &Result<f64, Unmeasured>, lowest_db: f64| match db {
            Ok(db) => fact(*db, estimate.over_db, confidence, lowest_db),
            Err(why) => Fact::missing(why.clone()),
        };
        Levels {
            bleed_db: level(&estimate.bleed_db, LOWEST_DB),
            treble_bleed_db: level(&estimate.treble_bleed_db, LOWEST_DB),
            transfer_db: level(&Ok(estimate.transfer_db), LOWEST_TRANSFER_DB),
        }
    }

    /// The most that the source may be there, in dB, re the microphone's own source where it has one, and whether a level can be told
    /// at all if the source arrives.
    pub fn most_db(&self) -> Option<(f64, bool)> {
        let estimate = self.estimate.as_ref().ok()?;
        let level_db = match &estimate.bleed_db {
            Err(Unmeasured::TooLittleActive { .. }) => return None,
            of_own => of_own.as_ref().copied().unwrap_or(estimate.transfer_db),
        };
        let is_told = estimate.agreement != Agreement::None;
        Some((level_db + if is_told { 0.0 } else { estimate.over_db }, is_told))
    }
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
    fn purity_db(&self, energies: &Energies) -> f64 {
        ratio_db(energies.level(self.home, self.source), energies.heard[self.home])
    }

    /// Whether the source, and the microphone's own, are clearly heard in some bands.
    fn sounds_in(&self, energies: &Sources, bands: &Range<usize>) -> bool {
        let is_heard = |place: usize, source: usize| {
            energies[place][source][bands.clone()].iter().any(|energy| *energy > 0.0)
        };
        is_heard(self.home, self.source) && self.own.is_none_or(|own| is_heard(self.place, own))
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
    let enough = |of: usize, need_s: f64| {
        let have_s = active_s[of];
        if have_s < need_s { Err(Unmeasured::TooLittleActive { have_s, need_s }) } else { Ok(()) }
    };
    let estimate = enough(source, NEEDS_S).map(|()| {
        let level = |energies: &Sources| pair.bleed_db(energies, active_s, &(0..N_BANDS));
        let long_db = level(&long.all);
        let known = Evidence {
            long_db,
            middle_db: level(&middle.all),
            by_powers_db: second.map(|second| pair.second_db(second, active_s)),
            halves_db: level(&long.halves[0]) - level(&long.halves[1]),
            purity_db: pair.purity_db(long),
            alone_share: pair.own.map_or(1.0, |own| turns.alone_s[source][own] / active_s[source]),
        };
        let re_own = |db: f64| match pair.own {
            Some(own) => enough(own, OWN_S).map(|()| db),
            None => Err(Unmeasured::NO_OWN_SOURCE),
        };
        let treble = bands_between(TREBLE_HZ[0], TREBLE_HZ[1]);
        let treble_db = pair.bleed_db(&long.all, active_s, &treble);
        let has_treble = pair.sounds_in(&long.all, &treble);
        Estimate {
            bleed_db: re_own(long_db),
            treble_bleed_db: re_own(treble_db).and_then(|db| {
                has_treble
                    .then_some(db)
                    .ok_or(Unmeasured::Because("too little treble is heard of one of the two"))
            }),
            transfer_db: pair.transfer_db(&long.all),
            agreement: known.agreement(),
            over_db: known.highest_over_db(),
        }
    });
    Bleed { source, mic, estimate }
}
