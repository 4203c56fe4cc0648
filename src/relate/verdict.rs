//! How loud spill is told to be, and how sure: a value or a bound.
//!
//! Takes several estimates of a level, and says by how well they agree and by what else the two microphones share whether the first
//! is borne out. Never makes an estimate itself.

use crate::unit::Fact;

/// What estimates may differ for an agreement, in dB, and what the source needs.
struct Limits {
    /// The estimate by shorter frames from that by long ones, and the one by powers.
    middle_db: f64,
    powers_db: f64,
    /// The two halves of the time.
    halves_db: f64,
    /// Least share of its time in which the microphone's own source rests. One that hardly ever sounds without it can't be told
    /// from it.
    alone_share: f64,
}

/// Limits of each agreement, the closest first.
const LIMITS: [(Agreement, Limits); 3] = [
    (Agreement::Close, Limits { middle_db: 2.0, powers_db: 3.0, halves_db: 2.0, alone_share: 0.1 }),
    (Agreement::Fair, Limits { middle_db: 3.0, powers_db: 6.0, halves_db: 4.0, alone_share: 0.05 }),
    (
        Agreement::Loose,
        Limits { middle_db: 4.0, powers_db: 12.0, halves_db: 6.0, alone_share: 0.0 },
    ),
];

/// Least share that a source has of its own microphone, in dB.
const PURITY_DB: f64 = -4.0;

/// What a bound lies above the highest estimate, in dB.
const BOUND_DB: f64 = 1.0;

/// Confidences of a level that much bears out, and of one that enough does.
const MUCH: f64 = 0.7;
const ENOUGH: f64 = 0.5;

/// Confidence of a bound.
const BOUND: f64 = 0.9;

/// A source that is told to be this much louder in a microphone than their coherence is not believed, in dB: true spill on simulated
/// stages, wet and dry, stood 5 dB over it at most.
const LESS_DB: f64 = 6.5;

/// What is known of how loud a source is in a microphone.
pub(super) struct Evidence {
    /// By long frames, in dB: what is told.
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

/// How well the estimates of a level agree.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Agreement {
    /// Within 3 dB.
    Close,
    /// Within 6 dB.
    Fair,
    /// The estimate by powers, which hears others too, may lie far off.
    Loose,
    /// Not at all.
    None,
}

impl Evidence {
    /// How well the estimates agree.
    pub(super) fn agreement(&self) -> Agreement {
        let is_within = |limits: &Limits| {
            let by_powers_db = self.by_powers_db.map(|db| self.over_db(db).abs());
            self.over_db(self.middle_db).abs() < limits.middle_db
                && by_powers_db.is_some_and(|db| db < limits.powers_db)
                && self.halves_db.abs() < limits.halves_db
                && self.purity_db > PURITY_DB
                && self.alone_share >= limits.alone_share
        };
        let met = LIMITS.iter().find(|(_, limits)| is_within(limits));
        met.map_or(Agreement::None, |(agreement, _)| *agreement)
    }

    /// How far the highest estimate lies above the one that is told, in dB.
    pub(super) fn highest_over_db(&self) -> f64 {
        let by_powers_db = self.by_powers_db.map_or(0.0, |db| self.over_db(db));
        self.over_db(self.middle_db).max(by_powers_db).max(0.0)
    }

    fn over_db(&self, other_db: f64) -> f64 {
        other_db - self.long_db
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
    /// Nobody has looked.
    Unknown,
}

/// How sure a level of spill is by how well its estimates agree and how its source arrives; `None`: it is a bound only. A source that
/// plays the same notes as the microphone's own may have been taken for it: then it arrives at no time that is sure.
pub fn confidence(agreement: Agreement, arrives: Arrives) -> Option<f64> {
    match (arrives, agreement) {
        (Arrives::Surely, Agreement::Close | Agreement::Fair) => Some(MUCH),
        (Arrives::Somehow | Arrives::Unknown, Agreement::Close) => Some(MUCH),
        (Arrives::Surely, Agreement::Loose) => Some(ENOUGH),
        (Arrives::Somehow | Arrives::Unknown, Agreement::Fair) => Some(ENOUGH),
        (Arrives::Never, Agreement::Close) => Some(ENOUGH),
        _ => None,
    }
}

/// Whether two channels are as coherent as spill makes them, `db` re the microphone's own source.
///
/// `share`: their coherence over all frequencies, 0 to 1.
pub fn is_coherent(db: f64, share: f64) -> bool {
    10.0 * share.max(1e-9).log10() >= db - LESS_DB
}

/// A level, or a bound `over_db` above it where nothing makes it sure; what lies below `lowest_db` is only bounded.
pub fn fact(level_db: f64, over_db: f64, confidence: Option<f64>, lowest_db: f64) -> Fact {
    match confidence {
        Some(confidence) if level_db >= lowest_db => Fact::sure(level_db, confidence),
        _ => Fact::AtMost {
            at_most: (level_db + over_db + BOUND_DB).max(lowest_db),
            confidence: BOUND,
        },
    }
}
