//! What the figures are to reach, in one place.
//!
//! Each is a bar on scenes that no threshold was set with.

/// Activity: mean of the F1 of all microphones.
pub(crate) const F1_MEAN: f64 = 0.95;

/// Activity: 10th percentile of the F1.
pub(crate) const F1_TENTH: f64 = 0.87;

/// Activity: how far the share of time may be off, and the share of microphones in which it is not.
pub(crate) const SHARE_OFF: f64 = 0.02;
pub(crate) const SHARE_RIGHT: f64 = 0.9;

/// Spill: true levels that count, in dB re the microphone's own source.
pub(crate) const SPILL_DB: (f64, f64) = (-25.0, -6.0);

/// Spill: share of the pairs that have a value, and its errors.
pub(crate) const SPILL_GIVEN: f64 = 0.6;
pub(crate) const SPILL_MEDIAN_DB: f64 = 0.7;
pub(crate) const SPILL_MOST_DB: f64 = 3.5;

/// From this confidence on a value is relied on.
pub(crate) const CONFIDENT: f64 = 0.7;

/// Spill: share of the pairs with a confident value, and its errors.
pub(crate) const SPILL_CONFIDENT_GIVEN: f64 = 0.5;
pub(crate) const SPILL_CONFIDENT_MOST_DB: f64 = 3.0;

/// A confident value may be off by so much.
pub(crate) const SPILL_OFF_DB: f64 = 3.0;
pub(crate) const DELAY_OFF_SAMPLES: f64 = 1.0;

/// Share of the confident values that may be off by more.
pub(crate) const CONFIDENT_OFF: f64 = 0.05;

/// A bound is wrong if the truth exceeds it by more than this, in dB.
pub(crate) const BOUND_SLACK_DB: f64 = 1.0;

/// Delay: share within [`DELAY_OFF_SAMPLES`], and the median error in samples.
pub(crate) const DELAY_RIGHT: f64 = 0.95;
pub(crate) const DELAY_MEDIAN_SAMPLES: f64 = 0.1;
