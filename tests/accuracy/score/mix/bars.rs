//! What the figures of the mix are to reach, in one place.

/// A channel counts in a second in which it lies this far under the mix or less, in dB.
pub(crate) const COUNTS_DB: f64 = -20.0;

/// Gain: median and 95th percentile of the error.
pub(crate) const GAIN_MEDIAN_DB: f64 = 0.35;
pub(crate) const GAIN_MOST_DB: f64 = 1.7;

/// Edges: median error, and the share within a tenth of a second.
pub(crate) const EDGE_MEDIAN_S: f64 = 0.03;
pub(crate) const EDGE_CLOSE_S: f64 = 0.1;
pub(crate) const EDGE_CLOSE: f64 = 0.9;

/// Pan: median error.
pub(crate) const PAN_MEDIAN: f64 = 0.04;

/// Equaliser by third-octave: median error, and the share within 1 dB.
pub(crate) const EQ_MEDIAN_DB: f64 = 0.4;
pub(crate) const EQ_CLOSE_DB: f64 = 1.0;
pub(crate) const EQ_CLOSE: f64 = 0.77;

/// Explained share where everything was recorded.
pub(crate) const EXPLAINED: f64 = 0.94;

/// Voice over the rest between 1 and 4 kHz.
pub(crate) const VOICE_DB: f64 = 0.5;

/// Open while idle, share of time.
pub(crate) const IDLE: f64 = 0.01;

/// A channel that is not compressed may read so much; a range may start so much above the truth, in dB.
pub(crate) const REDUCTION_SLACK_DB: f64 = 2.0;
