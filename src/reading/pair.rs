//! Facts about two channels.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::unit::{Fact, Span};

/// Why two channels are compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Kinship {
    /// Left and right of one source.
    StereoPair,
    /// Two microphones, or a microphone and a DI, on one source.
    SameSource,
    /// They were found to carry the same signal.
    Twin,
    /// The second microphone hears the source of the first beside its own.
    Spill,
}

/// What two channels say about each other.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct Pair {
    /// Id of the first channel: left, top, inside or DI; of spill, the channel whose source it is.
    pub source: String,
    /// Id of the second channel.
    pub mic: String,
    /// Why they are compared.
    pub kinship: Kinship,
    /// Residual of one after the best scaling of the other, re its own power; at lag 0.
    pub residual_db: Fact,
    /// Correlation, loudness-weighted median of blocks: 100 Hz to 2 kHz for stereo pairs.
    pub correlation: Fact,
    /// Share of active blocks in which that correlation is below zero, 0 to 100.
    pub inverted_percent: Fact,
    /// Correlation at the best lag within 1.5 ms, in the body of the source (60-500 Hz, snare 150-800 Hz); stereo pairs too, at lag 0.
    pub body_correlation: Fact,
    /// Arrival in the second minus arrival in the first: positive means later.
    pub delay_s: Fact,
    /// 1 or -1.
    pub polarity: Fact,
    /// How much farther the source is from the second than from the first: delay times the speed of sound.
    pub farther_m: Fact,
    /// Level of the source in the second channel minus the level of that channel's own source there.
    pub bleed_db: Fact,
    /// The same, above 5.6 kHz alone.
    pub treble_bleed_db: Fact,
    /// Level of the source in the second channel minus its level in its own channel.
    pub transfer_db: Fact,
    /// Magnitude-squared coherence of the two channels, 0 to 1, weighted by energy, 300 Hz to 3 kHz.
    pub coherence: Fact,
    /// Highest minus lowest response of the sum, if both are open so that the second holds the source at `transfer_db`.
    pub ripple_db: Fact,
    /// The first dips of that sum.
    pub notches_hz: Vec<f64>,
    /// Where it can be heard.
    pub evidence: Vec<Span>,
}
