//! # Steps of an input's gain
//!
//! Where a microphone hears all its neighbours louder or softer from one moment on: its preamplifier was turned.
//!
//! - **Formula:** third-octaves from 100 Hz to 5 kHz, in steps of 0.2 s. In each the power is put together from those of the other
//!   inputs, with factors that are not negative and hold for the whole recording, found where the own source rests. What is left,
//!   in dB, is the same in all bands (median deviation up to 2 dB) while the microphone hears the others alone, whatever its gain; 5 s
//!   of that before a moment are compared with 5 s behind it. A step is 2 dB or more, in all bands alike (1 dB), half of it within
//!   1.2 s and over 15 s on either side, not half as much within one side; the own source, where it is heard on both sides, moves
//!   with it
//! - **Unit:** dB
//! - **Range:** 2 to 20 dB up or down
//! - **Source:** common practice: a gain moves spill and source together, a player moves only himself. Of 102 steps of 3 to 6 dB
//!   planted in the third-octaves of the whole built-in evening 57 were found, on stages of 90 s 20 to 38 of 100 (the rest known from
//!   before); no step was invented
//! - **Window:** songs; 5 s on either side within 30 s
//! - **No value:** the microphone's own source hardly rests while others play
//! - **Misleads when:** a loudspeaker for the players that fills the microphone is turned while its own source rests

use std::ops::Range;

use super::ride::not_negative;
use crate::dsp::percentile::{median, percentile};
use crate::measure::sliding::steps_inside;
use crate::measure::thirds::{STEP_S, Thirds};
use crate::unit::Span;
use crate::unit::spans::both;

/// Third-octaves from 100 Hz to 5 kHz.
const BANDS: Range<usize> = 6..24;

/// Steps of rest on either side: 5 s.
const SIDE: usize = 25;

/// A side reaches so far at most, and so long a gap may lie between them, in steps: 30 s and 10 s.
const FARTHEST: usize = 150;
const WIDEST_GAP: usize = 50;

/// Steps next to the moment that hold half of the change, and steps over which it lasts: 1.2 s and 15 s.
const SOON: usize = 6;
const LASTS: usize = 75;

/// Least and largest step, and how far bands may differ, in dB.
const STEP_DB: [f64; 2] = [2.0, 20.0];
const UNLIKE_DB: f64 = 1.0;

/// How far bands differ in one step of 0.2 s while others are heard alone, in dB.
const SPILL_DB: f64 = 2.0;

/// Below this a look at all bands is spared, in dB.
const HINT_DB: f64 = 1.5;

/// Share of the change that one side may hold by itself at most, and that the shorter and the longer look hold at least.
const SHARE: f64 = 0.5;

/// Steps of rest that the factors need: 20 s. The floor: the share of them that lies under it.
const NEEDS: usize = 100;
const FLOOR_SHARE: f64 = 0.05;

/// Steps that the factors are fitted to at most, rounds, and turns in each.
const MOST_FITTED: usize = 1500;
const ROUNDS: usize = 3;
const SWEEPS: usize = 60;

/// Steps of the own source on either side: the nearest 8 s within 2 minutes, 2 s at least.
const OWN: usize = 40;
const OWN_LEAST: usize = 10;
const OWN_FAR: usize = 600;

/// The own source moves with the step within this, in dB, or half of the step.
const OWN_WITHIN_DB: f64 = 2.5;

/// A power that stands for silence.
const SILENCE: f64 = 1e-15;

/// A step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// When, in seconds.
    pub at_s: f64,
    /// By how much the gain went up, in dB; negative for down.
    pub change_db: f64,
    /// Whether the own source was heard to move with it.
    pub is_confirmed: bool,
}

/// The steps of a microphone in some songs, in order; `None` where it rests too little to tell.
///
/// `resting` is when its own source rests while others play, `active` when it sounds.
pub fn gain_steps(
    own: &Thirds,
    others: &[&Thirds],
    resting: &[Span],
    active: &[Span],
    songs: &[Span],
) -> Option<Vec<Step>> {
    let n_steps = others.iter().map(|one| one.n_steps()).fold(own.n_steps(), usize::min);
    if own.bands.len() < BANDS.end || others.is_empty() {
        return None;
    }
    let others: Vec<&&Thirds> = others.iter().filter(|one| one.bands.len() >= BANDS.end).collect();
    let rest = steps_of(&both(resting, songs), n_steps);
    if rest.len() < NEEDS {
        return None;
    }
    let factors: Vec<Vec<f64>> = BANDS.map(|band| factors(own, &others, band, &rest)).collect();
    let sounding = steps_of(&both(active, songs), n_steps);
    let mut found = Vec::new();
    for song in songs {
        let spill = Spill::of(own, &others, &factors, steps_inside(*song, STEP_S, n_steps));
        found.extend(spill.steps().into_iter().filter_map(|candidate| {
            let follows = follows(own, &sounding, &spill.at, &candidate);
            (follows != Some(false)).then(|| Step {
                at_s: candidate.at_s(&spill.at),
                change_db: candidate.change_db,
                is_confirmed: follows == Some(true),
            })
        }));
    }
    Some(found)
}

/// Steps that lie inside stretches.
fn steps_of(spans: &[Span], n_steps: usize) -> Vec<usize> {
    spans.iter().flat_map(|span| steps_inside(*span, STEP_S, n_steps)).collect()
}

/// Factors by which the powers of the other inputs, and the floor behind them, make up a band while the own source rests.
fn factors(own: &Thirds, others: &[&&Thirds], band: usize, rest: &[usize]) -> Vec<f64> {
    let heard: Vec<f64> = rest.iter().map(|&step| power(own, band, step)).collect();
    let floor = percentile(&heard, FLOOR_SHARE).unwrap_or(SILENCE);
    let stride = rest.len().div_ceil(MOST_FITTED).max(1);
    let rows: Vec<(Vec<f64>, f64)> = rest
        .iter()
        .zip(&heard)
        .step_by(stride)
        .map(|(&step, &heard)| {
            let powers = others.iter().map(|one| one.bands[band].power(step));
            (powers.chain([floor]).collect(), heard)
        })
        .collect();
    let mut factors = fitted(&rows);
    // The floor stands there as a power of its own.
    if let Some(last) = factors.last_mut() {
        *last *= floor;
    }
    factors
}

/// Power of a band in a step; never 0.
fn power(thirds: &Thirds, band: usize, step: usize) -> f64 {
    thirds.bands[band].power(step).max(SILENCE)
}

/// A band of the microphone over what the others and the floor explain of it, step by step, in dB.
fn over_db(
    own: &Thirds,
    others: &[&&Thirds],
    band: usize,
    factors: &[f64],
    steps: Range<usize>,
) -> Vec<f64> {
    let mut explained = vec![0.0; steps.len()];
    // What adds nothing is not looked up.
    for (other, factor) in others.iter().zip(factors).filter(|(_, factor)| **factor != 0.0) {
        let powers = other.bands[band].powers_in(steps.clone());
        explained.iter_mut().zip(powers).for_each(|(sum, power)| *sum += power * factor);
    }
    let floor = factors.get(others.len()).copied().unwrap_or(0.0);
    let heard = own.bands[band].powers_in(steps);
    let over_db = |(heard, explained): (f64, f64)| {
        10.0 * (heard.max(SILENCE) / (explained + floor).max(SILENCE)).log10()
    };
    heard.into_iter().zip(explained).map(over_db).collect()
}

/// What a microphone hears over what the others explain of it, in the steps of a song in which it hears them alone.
struct Spill {
    /// The steps.
    at: Vec<usize>,
    /// By band, then step, in dB.
    bands_db: Vec<Vec<f64>>,
    /// The median of the bands.
    middle_db: Vec<f64>,
}

impl Spill {
    fn of(own: &Thirds, others: &[&&Thirds], factors: &[Vec<f64>], song: Range<usize>) -> Self {
        let bands_db: Vec<Vec<f64>> = BANDS
            .zip(factors)
            .map(|(band, factors)| over_db(own, others, band, factors, song.clone()))
            .collect();
        let mut spill = Self {
            at: Vec::new(),
            bands_db: vec![Vec::new(); factors.len()],
            middle_db: Vec::new(),
        };
        for (idx, step) in song.enumerate() {
            let over_db: Vec<f64> = bands_db.iter().map(|band| band[idx]).collect();
            let middle_db = middle(&over_db);
            if deviation(&over_db, middle_db) <= SPILL_DB {
                spill.at.push(step);
                spill.middle_db.push(middle_db);
                spill.bands_db.iter_mut().zip(over_db).for_each(|(band, db)| band.push(db));
            }
        }
        spill
    }

    /// The steps of the gain: the largest of each 5 s.
    fn steps(&self) -> Vec<Candidate> {
        let mut found: Vec<Candidate> = Vec::new();
        for at in SIDE..(self.at.len() + 1).saturating_sub(SIDE) {
            let Some(candidate) = self.candidate(at) else { continue };
            match found.last_mut() {
                Some(last) if at - last.at < SIDE => {
                    if candidate.size() > last.size() {
                        *last = candidate;
                    }
                }
                _ => found.push(candidate),
            }
        }
        found
    }

    fn candidate(&self, at: usize) -> Option<Candidate> {
        let (before, behind) = (at - SIDE..at, at..at + SIDE);
        let mid = |range: Range<usize>| middle(&self.middle_db[range]);
        let is_near = self.at[behind.end - 1] - self.at[before.start] <= FARTHEST
            && self.at[at] - self.at[at - 1] <= WIDEST_GAP;
        if !is_near || (mid(behind.clone()) - mid(before.clone())).abs() < HINT_DB {
            return None;
        }
        let change =
            |band: &Vec<f64>| middle(&band[behind.clone()]) - middle(&band[before.clone()]);
        let changes: Vec<f64> = self.bands_db.iter().map(change).collect();
        let change_db = middle(&changes);
        let unlike_db = deviation(&changes, change_db);
        let drift = |side: &Range<usize>| {
            let half = SIDE / 2;
            (mid(side.end - half..side.end) - mid(side.start..side.start + half)).abs()
        };
        let over = |reach: usize| {
            let ends = at.saturating_sub(reach)..(at + reach).min(self.at.len());
            (mid(at..ends.end) - mid(ends.start..at)) * change_db.signum()
        };
        let share_db = SHARE * change_db.abs();
        let is_step = (STEP_DB[0]..=STEP_DB[1]).contains(&change_db.abs())
            && unlike_db <= UNLIKE_DB
            && drift(&before).max(drift(&behind)) <= share_db
            && over(SOON).min(over(LASTS)) >= share_db;
        is_step.then_some(Candidate { at, change_db, unlike_db })
    }
}

/// Factors by which powers make up what is heard, each row weighted so that its error counts in parts of itself.
fn fitted(rows: &[(Vec<f64>, f64)]) -> Vec<f64> {
    let n = rows.first().map_or(0, |row| row.0.len());
    let mut factors = vec![0.0; n];
    for round in 0..ROUNDS {
        let (mut products, mut with_heard) = (vec![0.0; n * n], vec![0.0; n]);
        for (powers, heard) in rows {
            let explained: f64 = powers.iter().zip(&factors).map(|(x, factor)| x * factor).sum();
            let size = if round == 0 { *heard } else { explained.max(0.1 * heard) };
            let weight = 1.0 / (size * size);
            for (one, &power) in powers.iter().enumerate() {
                with_heard[one] += weight * power * heard;
                let row = &mut products[one * n..(one + 1) * n];
                row.iter_mut().zip(powers).for_each(|(sum, other)| *sum += weight * power * other);
            }
        }
        factors = solved(&products, &with_heard);
    }
    factors
}

/// The factors that solve the sums, none negative. Inputs differ by many orders: each is scaled to 1.
#[expect(clippy::cast_possible_truncation, reason = "scaled to about 1")]
fn solved(products: &[f64], with_heard: &[f64]) -> Vec<f64> {
    let n = with_heard.len();
    let scales: Vec<f64> = (0..n).map(|one| products[one * n + one].sqrt().max(SILENCE)).collect();
    let scaled: Vec<f32> = (0..n * n)
        .map(|at| {
            let on_diagonal = at % (n + 1) == 0;
            let product = products[at] / (scales[at / n] * scales[at % n]);
            if on_diagonal { 1.0 } else { product as f32 }
        })
        .collect();
    let with_heard: Vec<f32> =
        with_heard.iter().zip(&scales).map(|(sum, scale)| (sum / scale) as f32).collect();
    let factors = not_negative(&scaled, &with_heard, SWEEPS);
    factors.iter().zip(&scales).map(|(factor, scale)| f64::from(*factor) / scale).collect()
}

/// A moment behind which the spill is another.
#[derive(Clone, Copy, Debug)]
struct Candidate {
    /// First of the steps behind it.
    at: usize,
    change_db: f64,
    unlike_db: f64,
}

impl Candidate {
    /// The middle between both sides, in seconds.
    #[expect(clippy::cast_precision_loss, reason = "counts of steps are far below 2^52")]
    fn at_s(&self, steps: &[usize]) -> f64 {
        (steps[self.at - 1] + 1 + steps[self.at]) as f64 / 2.0 * STEP_S
    }

    fn size(&self) -> f64 {
        self.change_db.abs() - self.unlike_db
    }
}

/// Whether the own source moves with a step; `None` where it is not heard on both sides.
fn follows(own: &Thirds, sounding: &[usize], spill: &[usize], step: &Candidate) -> Option<bool> {
    let level_db = |step: usize| {
        let power: f64 = own.bands[BANDS].iter().map(|band| band.power(step)).sum();
        10.0 * power.max(SILENCE).log10()
    };
    let (from, to) = (spill[step.at - 1], spill[step.at]);
    let before = sounding.iter().rev().skip_while(|&&one| one > from);
    let before: Vec<f64> = before
        .take_while(|&&one| one + OWN_FAR >= from)
        .take(OWN)
        .map(|&one| level_db(one))
        .collect();
    let behind = sounding.iter().skip_while(|&&one| one < to);
    let behind: Vec<f64> = behind
        .take_while(|&&one| one <= to + OWN_FAR)
        .take(OWN)
        .map(|&one| level_db(one))
        .collect();
    if before.len().min(behind.len()) < OWN_LEAST {
        return None;
    }
    let moved_db = middle(&behind) - middle(&before);
    Some((moved_db - step.change_db).abs() <= OWN_WITHIN_DB.max(0.5 * step.change_db.abs()))
}

/// The median of numbers of which there is one at least.
fn middle(numbers: &[f64]) -> f64 {
    median(numbers).expect("there are steps on both sides, and bands")
}

/// Median distance from a middle.
fn deviation(numbers: &[f64], middle_db: f64) -> f64 {
    middle(&numbers.iter().map(|one| (one - middle_db).abs()).collect::<Vec<_>>())
}
