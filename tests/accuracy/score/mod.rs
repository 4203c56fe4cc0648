//! Scores of what a review says microphones share, against the truth that the renderer writes beside a scene.
//!
//! Takes what a reading tells and the truth, gives counts and errors; pure functions. The naive witnesses are scored by the same
//! functions. Never used to set a threshold.

pub(crate) mod activity;
pub(crate) mod bars;
pub(crate) mod delay;
pub(crate) mod kin;
pub(crate) mod mix;
pub(crate) mod recording;
pub(crate) mod spill;
pub(crate) mod table;
pub(crate) mod told;
pub(crate) mod truth;
pub(crate) mod witness;

/// A percentile of values, 0 to 100, by the nearest rank; none of nothing.
pub(crate) fn percentile(values: &[f64], percent: f64) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let rank = (percent / 100.0 * sorted.len() as f64).ceil().max(1.0);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a rank, from 1")]
    let idx = rank as usize - 1;
    sorted.get(idx).copied()
}

/// Share of the whole; none of nothing.
pub(crate) fn share(part: usize, whole: usize) -> Option<f64> {
    (whole > 0).then(|| part as f64 / whole as f64)
}
