//! Channels that hold the same thing: recognised, or taken for spill.

use deskside::reading::Kinship;
use deskside::unit::Fact;

use super::told::Told;
use super::truth::Truth;

/// Score of the kin of a scene; scores of several add up.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Score {
    /// Pairs of channels that hold the same thing, each once.
    pub(crate) n_pairs: usize,
    /// Of these: told to be a stereo pair, twins, or of the same source.
    pub(crate) n_recognised: usize,
    /// Of these: given as spill.
    pub(crate) n_as_spill: usize,
}

impl Score {
    /// Adds another scene's.
    pub(crate) fn add(&mut self, other: Self) {
        self.n_pairs += other.n_pairs;
        self.n_recognised += other.n_recognised;
        self.n_as_spill += other.n_as_spill;
    }
}

/// Scores what is told of kin.
pub(crate) fn score(truth: &Truth, told: &Told) -> Score {
    let mut score = Score::default();
    for row in truth.spill.iter().filter(|row| row.one_thing && row.source < row.mic) {
        let pairs = told.pairs.iter().filter(|pair| {
            (pair.source == row.source && pair.mic == row.mic)
                || (pair.source == row.mic && pair.mic == row.source)
        });
        let (mut is_recognised, mut is_spill) = (false, false);
        for pair in pairs {
            let is_given = !matches!(pair.bleed_db, Fact::Missing { .. });
            is_recognised |= pair.kinship != Kinship::Spill;
            is_spill |= pair.kinship == Kinship::Spill && is_given;
        }
        score.n_pairs += 1;
        score.n_recognised += usize::from(is_recognised);
        score.n_as_spill += usize::from(is_spill);
    }
    score
}
