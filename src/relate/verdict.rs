//! How loud spill is told to be, and how sure: a value, ordinary or strict, or a bound.
//!
//! Takes several estimates of a level, gives the middle one, and says by how well they agree and by what else the two microphones
//! share whether it is borne out. Never makes an estimate itself.

use crate::unit::Fact;

/// For a strict verdict, and for an ordinary one: what the three estimates may differ, in dB, and what the two halves may.
const SPREAD_DB: [f64; 2] = [2.5, 3.5];
const HALVES_DB: [f64; 2] = [2.0, 3.0];

/// The same: least share that a source has of its own microphone, in dB.
const PURITY_DB: [f64; 2] = [-1.5, -2.0];

/// The same: least share of its time in which the microphone's own source rests. One that hardly ever sounds without it can't be
/// told from it.
const ALONE_SHARE: [f64; 2] = [0.2, 0.1];

/// The same: least level, in dB. What is softer by five decibels came out as -25 dB in trials.
const FROM_DB: [f64; 2] = [-24.0, f64::NEG_INFINITY];

/// What a bound lies above the highest estimate, in dB.
const BOUND_DB: f64 = 1.0;

/// Confidences of a strict verdict and an ordinary one.
const STRICT: f64 = 0.7;
const ORDINARY: f64 = 0.5;

/// Confidence of a bound.
const BOUND: f64 = 0.9;

/// A source that is told to be this much louder in a microphone than their coherence is not believed, in dB: true spill on simulated
/// stages, wet and dry, stood 5 dB over it at most.
const LESS_DB: f64 = 6.5;

/// What is known of how loud a source is in a microphone.
pub(super) struct Evidence {
    /// By long frames, in dB.
    pub(super) long_db: f64,
    /// By shorter ones.
    pub(super) middle_db: f64,
    /// By powers that follow each other.
    pub(super) by_powers_db: Option<f64>,
    /// What the halves of the time differ by.
    pub(super) halves_db: f64,
    /// The source's share of its own microphone.
    pub(super) purity_db: f64,
    /// Share of the source's time in which the microphone's own rests.
    pub(super) alone_share: f64,
}

/// How sure the estimates of a level make it.
pub(super) struct Verdict {
    /// The middle one of the estimates, in dB: where one is far off, mostly since another source is in it, the others are near.
    pub(super) level_db: f64,
    /// `None`: a bound only.
    confidence: Option<f64>,
    /// How far the highest estimate lies above the level, in dB.
    over_db: f64,
}

impl Verdict {
    /// From all that is known.
    pub(super) fn new(known: &Evidence) -> Self {
        let Evidence { long_db, middle_db, .. } = *known;
        let Some(by_powers_db) = known.by_powers_db else {
            let over_db = (middle_db - long_db).max(0.0);
            return Self { level_db: long_db, confidence: None, over_db };
        };
        let mut estimates_db = [long_db, middle_db, by_powers_db];
        estimates_db.sort_by(f64::total_cmp);
        let [lowest_db, level_db, highest_db] = estimates_db;
        let agree = |which: &usize| {
            highest_db - lowest_db < SPREAD_DB[*which]
                && known.halves_db.abs() < HALVES_DB[*which]
                && known.purity_db > PURITY_DB[*which]
                && known.alone_share >= ALONE_SHARE[*which]
                && level_db >= FROM_DB[*which]
        };
        let which = (0..2).find(agree);
        let confidence = which.map(|which| [STRICT, ORDINARY][which]);
        Self { level_db, confidence, over_db: highest_db - level_db }
    }

    /// A value, or a bound; what lies below `lowest_db` is only bounded.
    pub(super) fn fact(&self, value_db: f64, lowest_db: f64) -> Fact {
        match self.confidence {
            Some(confidence) if value_db >= lowest_db => Fact::sure(value_db, confidence),
            _ => Fact::AtMost {
                at_most: (value_db + self.over_db + BOUND_DB).max(lowest_db),
                confidence: BOUND,
            },
        }
    }
}

/// How the source of a level of spill arrives there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Arrives {
    /// At a time that is sure, be it by a detour.
    Surely,
    /// At a time that may be another's.
    Somehow,
    /// At no time that stands out.
    Never,
}

/// The highest confidence that a level of spill may have by what else the two microphones share; `None`: it is a bound only. A source
/// that plays the same notes as the microphone's own may have been taken for it: then it arrives at no time that is sure, or the
/// two are less coherent than such spill makes them.
///
/// `coherent_share`: their coherence over all frequencies, 0 to 1, if it is known.
pub fn borne_out(bleed_db: &Fact, arrives: Arrives, coherent_share: Option<f64>) -> Option<f64> {
    let is_less = |share: f64, db: f64| 10.0 * share.max(1e-9).log10() < db - LESS_DB;
    match arrives {
        _ if coherent_share.zip(bleed_db.value()).is_some_and(|(s, db)| is_less(s, db)) => None,
        Arrives::Surely => Some(1.0),
        Arrives::Somehow => Some(ORDINARY),
        Arrives::Never => None,
    }
}

/// A level that has at most some confidence, or is a bound only. What is no value stays as it is.
pub fn capped(level: &Fact, most: Option<f64>) -> Fact {
    match (level.value(), most) {
        (Some(value), Some(most)) => Fact::sure(value, level.confidence().min(most)),
        (Some(value), None) => Fact::AtMost { at_most: value + BOUND_DB, confidence: BOUND },
        (None, _) => level.clone(),
    }
}
