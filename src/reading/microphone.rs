//! Facts about how a microphone was set and handled.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Events;
use crate::unit::{Fact, Span};

/// How a microphone was set and handled; what is not looked for on a channel is none.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Microphone {
    /// Moments at which its preamplifier was turned, song by song.
    #[serde(default)]
    pub gain_steps: Option<Vec<GainStep>>,
    /// Gaps below all that it ever hears, as a wireless link makes them.
    #[serde(default)]
    pub fades: Option<Events>,
    /// Knocks and rustle in the pauses of its source.
    #[serde(default)]
    pub thumps: Option<Events>,
    /// How long these pauses are together, in seconds; none where they were not looked for.
    #[serde(default)]
    pub thump_pauses_s: Option<f64>,
    /// What monitor loudspeakers bring into it, where a monitor mix was recorded.
    #[serde(default)]
    pub wedge: Option<WedgeSound>,
    /// How far the treble of a talking voice falls in its dullest passage.
    #[serde(default)]
    pub treble_fall: Option<TrebleFall>,
}

/// How far the treble of a talking voice falls in its dullest half-minute, as it does where the mouth no longer points at the
/// microphone.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TrebleFall {
    /// 5.6-11.2 kHz against 224-1122 Hz, the brightest fifth of passages that are alike minus the dull one.
    pub fall_db: Fact,
    /// What chance and a softer voice explain of it; none where it could not be measured.
    pub explained_db: Option<f64>,
    /// The dull passage, and a bright one to compare with; empty where none falls.
    pub at: Vec<Span>,
}

/// What monitor loudspeakers bring into a microphone.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct WedgeSound {
    /// Id of the monitor mix that it fits most.
    pub mix: Option<String>,
    /// Its level while the own source rests minus that of the loud own source, 250 Hz to 4 kHz.
    pub re_loud_db: Fact,
    /// How much later than that mix it arrives, where it could be told.
    pub arrival_s: Option<f64>,
    /// Long rests of the own source, in which it can be heard.
    pub at: Vec<Span>,
}

/// A moment at which a preamplifier was turned.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct GainStep {
    /// Title of the song.
    pub song: String,
    /// When, in seconds.
    pub at_s: f64,
    /// By how much the gain went up; negative for down.
    pub change_db: f64,
    /// Whether its own source was heard to move with what it hears of the others.
    pub is_confirmed: bool,
}
