//! Delay and polarity against the way that the sound takes through the air.

use deskside::unit::Fact;

use super::bars::{CONFIDENT, DELAY_OFF_SAMPLES};
use super::told::Told;
use super::truth::Truth;

/// Rate of the scenes, in Hz.
pub(crate) const RATE_HZ: f64 = 48_000.0;

/// Score of the delays of a scene; scores of several add up.
#[derive(Clone, Debug, Default)]
pub(crate) struct Score {
    /// Errors of the delays where direct sound is the loudest, in samples.
    pub(crate) errors_samples: Vec<f64>,
    /// Errors where a reflection or a wedge is about as loud or louder.
    pub(crate) others_samples: Vec<f64>,
    /// Polarities given where direct sound is the loudest.
    pub(crate) n_polarities: usize,
    /// Of these: wrong.
    pub(crate) n_polarities_wrong: usize,
    /// Confident delays.
    pub(crate) n_confident: usize,
    /// Of these: off by more than a sample.
    pub(crate) n_confident_off: usize,
}

impl Score {
    /// Adds another scene's.
    pub(crate) fn add(&mut self, other: &Self) {
        self.errors_samples.extend(&other.errors_samples);
        self.others_samples.extend(&other.others_samples);
        self.n_polarities += other.n_polarities;
        self.n_polarities_wrong += other.n_polarities_wrong;
        self.n_confident += other.n_confident;
        self.n_confident_off += other.n_confident_off;
    }
}

/// How many of these errors lie within a sample.
pub(crate) fn n_right(errors_samples: &[f64]) -> usize {
    errors_samples.iter().filter(|error| error.abs() <= DELAY_OFF_SAMPLES).count()
}

/// Scores what is told of the delays of a scene.
pub(crate) fn score(truth: &Truth, told: &Told) -> Score {
    let mut score = Score::default();
    for pair in &told.pairs {
        let Some(row) = truth.row(&pair.source, &pair.mic) else { continue };
        let (Some(true_s), Fact::Value { value, confidence }) = (row.delay_s, &pair.delay_s) else {
            continue;
        };
        let error = (value - true_s) * RATE_HZ;
        let is_off = error.abs() > DELAY_OFF_SAMPLES;
        score.n_confident += usize::from(*confidence >= CONFIDENT);
        score.n_confident_off += usize::from(*confidence >= CONFIDENT && is_off);
        if !row.is_direct_loudest {
            score.others_samples.push(error);
            continue;
        }
        score.errors_samples.push(error);
        if let (Some(told), Some(is)) = (pair.polarity.value(), row.polarity) {
            score.n_polarities += 1;
            score.n_polarities_wrong += usize::from(told * is < 0.0);
        }
    }
    score
}
