//! Facts about feedback.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::unit::{Fact, Span, Unmeasured};

/// What was heard of feedback, and where it was looked for.
#[derive(Clone, Debug, Default, Serialize, Deserialize, JsonSchema)]
pub struct Feedback {
    /// Ids of the channels in which howls were looked for.
    pub looked_at: Vec<String>,
    /// Howls, in order of time.
    pub howls: Vec<Howl>,
    /// Rings while somebody talks: each microphone, mix and hall in which they were looked for. A ring is told once.
    pub ringing: Vec<Ringing>,
    /// Where monitor loudspeakers stand for the microphones that they serve, by the stage plot.
    pub wedges: Vec<WedgeDirection>,
    /// Whether the plot was checked on the day of the session.
    pub is_plot_checked: bool,
}

/// A howl: microphone and loudspeaker feed each other.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct Howl {
    /// Id of the microphone that it comes from; of the mix or the room that shows it where no recorded microphone does.
    pub channel: String,
    /// Ids of all channels that hold it, that one among them.
    pub heard_in: Vec<String>,
    /// When.
    #[serde(flatten)]
    pub span: Span,
    /// Frequency.
    pub frequency_hz: f64,
    /// Highest level, where it comes from.
    pub peak_dbfs: f64,
    /// That level over the programme of this channel.
    pub over_programme_db: f64,
    /// How fast it grew, in dB a second; 0 where no straight rise was seen.
    pub growth_db_per_s: f64,
    /// How sure it is, 0 to 1.
    pub confidence: f64,
}

/// Rings of one channel: of a microphone those that come from it, of a mix or the hall those that no recorded microphone shows.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct Ringing {
    /// Id of the channel.
    pub channel: String,
    /// Talk that was looked at, in seconds: of a talker's microphone, talk into it.
    pub talk_s: f64,
    /// Why it says nothing that none was found; not there where it says so.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub not_measurable: Option<Unmeasured>,
    /// Frequencies at which it rings, the one that rings longest first.
    pub rings: Vec<Ring>,
}

impl Ringing {
    /// Why no rings are looked for in a channel in which nobody talks.
    pub const NO_TALK: &str =
        "nobody talks there, and a ring can't be told from notes that are held";
}

/// A frequency at which a channel rings.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct Ring {
    /// Frequency.
    pub frequency_hz: f64,
    /// Ids of all channels that show it, that one among them.
    #[serde(default)]
    pub heard_in: Vec<String>,
    /// How long it rang in all, in seconds.
    pub rings_s: f64,
    /// When.
    pub at: Vec<Span>,
}

/// Where a monitor loudspeaker stands for a microphone.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct WedgeDirection {
    /// Id of the microphone.
    pub channel: String,
    /// Label of the loudspeaker.
    pub wedge: String,
    /// Angle off the axis of the microphone, in space, in degrees.
    pub angle_deg: f64,
    /// Level from there re the axis, by the nominal pattern.
    pub level_db: Fact,
}
