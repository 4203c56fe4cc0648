//! Spill: how many pairs have a value, how far it is off, and which bounds are wrong.

use deskside::reading::Kinship;
use deskside::unit::Fact;

use super::bars::{BOUND_SLACK_DB, CONFIDENT, SPILL_DB, SPILL_OFF_DB};
use super::told::{Pair, Told};
use super::truth::{Row, Truth};

/// Score of the spill of a scene; scores of several add up.
#[derive(Clone, Debug, Default)]
pub(crate) struct Score {
    /// Pairs whose true level counts.
    pub(crate) n_pairs: usize,
    /// Of these: errors of the values, told minus true, in dB.
    pub(crate) errors_db: Vec<f64>,
    /// Of these: errors of the confident values.
    pub(crate) confident_db: Vec<f64>,
    /// Confident values of all pairs, whatever their true level.
    pub(crate) n_confident: usize,
    /// Of these: off by more than 3 dB, or of pairs that share nothing.
    pub(crate) n_confident_off: usize,
    /// Bounds of all pairs.
    pub(crate) n_bounds: usize,
    /// Of these: the truth exceeds the bound by more than 1 dB.
    pub(crate) n_bounds_wrong: usize,
}

impl Score {
    /// Adds another scene's.
    pub(crate) fn add(&mut self, other: &Self) {
        self.n_pairs += other.n_pairs;
        self.errors_db.extend(&other.errors_db);
        self.confident_db.extend(&other.confident_db);
        self.n_confident += other.n_confident;
        self.n_confident_off += other.n_confident_off;
        self.n_bounds += other.n_bounds;
        self.n_bounds_wrong += other.n_bounds_wrong;
    }
}

/// Scores what is told of the spill of a scene.
pub(crate) fn score(truth: &Truth, told: &Told) -> Score {
    let mut score = Score::default();
    for row in truth.spill_pairs() {
        let is_counted = row.bleed_db.is_some_and(|db| (SPILL_DB.0..=SPILL_DB.1).contains(&db));
        score.n_pairs += usize::from(is_counted);
        let Some(pair) = told_of(truth, told, row) else { continue };
        match (&pair.bleed_db, row.bleed_db) {
            (Fact::Value { value, confidence }, true_db) => {
                let error_db = true_db.map(|true_db| value - true_db);
                let is_confident = *confidence >= CONFIDENT;
                if let (true, Some(error_db)) = (is_counted, error_db) {
                    score.errors_db.push(error_db);
                    score.confident_db.extend(is_confident.then_some(error_db));
                }
                let is_off = error_db.is_none_or(|error_db| error_db.abs() > SPILL_OFF_DB);
                score.n_confident += usize::from(is_confident);
                score.n_confident_off += usize::from(is_confident && is_off);
            }
            (Fact::AtMost { at_most, .. }, true_db) => {
                score.n_bounds += 1;
                let is_wrong = true_db.is_some_and(|true_db| true_db > at_most + BOUND_SLACK_DB);
                score.n_bounds_wrong += usize::from(is_wrong);
            }
            _ => {}
        }
    }
    score
}

/// What is told of a thing in a microphone, by whichever of the thing's channels; the surest, values first.
fn told_of<'a>(truth: &Truth, told: &'a Told, row: &Row) -> Option<&'a Pair> {
    let thing = truth.thing(&row.source);
    let pairs = told.pairs.iter().filter(|pair| {
        pair.kinship == Kinship::Spill && pair.mic == row.mic && truth.thing(&pair.source) == thing
    });
    pairs.max_by(|a, b| {
        let worth = |pair: &Pair| {
            let kind = match pair.bleed_db {
                Fact::Missing { .. } => 0.0,
                Fact::Value { .. } => 2.0,
                _ => 1.0,
            };
            kind + pair.bleed_db.confidence() / 2.0
        };
        worth(a).total_cmp(&worth(b))
    })
}
