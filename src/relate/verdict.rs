//! How sure a level of spill is: a value, ordinary or strict, or a bound.
//!
//! Takes how well several estimates of it agree, and whether what else the two microphones share bears it out. Never estimates a level
//! itself.

use crate::unit::Fact;

/// What the second estimate may differ, in dB; what the two halves may; least purity; what shorter frames may differ.
const FIT_DB: [f64; 2] = [2.0, 3.0];
const HALVES_DB: [f64; 2] = [1.0, 1.5];
const PURITY_DB: [f64; 2] = [-2.0, -3.0];
const FRAMES_DB: f64 = 2.5;

/// Below this, in dB, a strict verdict is an ordinary one: what is softer by ten decibels came out as -25 dB in trials.
const STRICT_FROM_DB: f64 = -22.0;

/// What a bound lies above the highest estimate, in dB.
const BOUND_DB: f64 = 1.0;

/// Confidences of a strict verdict and an ordinary one.
const STRICT: f64 = 0.7;
const ORDINARY: f64 = 0.5;

/// Confidence of a bound.
const BOUND: f64 = 0.9;

/// A source that is told to be this much louder in a microphone than their coherence is not believed, in dB: true spill on simulated
/// stages, wet and dry, stood 5 dB over it at most.
const LESS_DB: f64 = 8.0;

/// How sure the estimates of a level make it.
pub(super) struct Verdict {
    /// `None`: a bound only.
    confidence: Option<f64>,
    /// How far the highest estimate lies above the one that is given, in dB.
    over_db: f64,
}

impl Verdict {
    /// From the estimate that is given, those by shorter frames and by powers, what the halves of the time differ by, the source's
    /// share of its own microphone, and whether it ever sounds alone beside the other's own.
    pub(super) fn new(
        value_db: f64,
        by_middle_db: f64,
        second_db: Option<f64>,
        halves_db: f64,
        purity_db: f64,
        is_ever_alone: bool,
    ) -> Self {
        let is_sure = |fit: f64, halves: f64, purity: f64| {
            second_db.is_some_and(|second| (second - value_db).abs() < fit)
                && (by_middle_db - value_db).abs() < FRAMES_DB
                && halves_db.abs() < halves
                && purity_db > purity
        };
        let may_be_strict = is_ever_alone && value_db >= STRICT_FROM_DB;
        let confidence = if may_be_strict && is_sure(FIT_DB[0], HALVES_DB[0], PURITY_DB[0]) {
            Some(STRICT)
        } else if is_sure(FIT_DB[1], HALVES_DB[1], PURITY_DB[1]) {
            Some(ORDINARY)
        } else {
            None
        };
        let highest_db = second_db.unwrap_or(value_db).max(by_middle_db).max(value_db);
        Self { confidence, over_db: highest_db - value_db }
    }

    /// The same, but not strict.
    pub(super) fn ordinary(&self) -> Self {
        Self { confidence: self.confidence.map(|sure| sure.min(ORDINARY)), ..*self }
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
    /// At a time that is sure.
    Surely,
    /// At a time that may be another's, or by a detour.
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
