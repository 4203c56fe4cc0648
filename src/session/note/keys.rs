//! The keys of `session.toml`.
//!
//! Data only. A key that is left out is `None`, never a default that looks like a statement.

use serde::Deserialize;

use super::moment;
use crate::session::role::Role;
use crate::session::tap::{Side, Tap};

/// Everything that `session.toml` may hold.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct SessionNote {
    /// Name of the session.
    pub name: Option<String>,
    /// Its date, `YYYY-MM-DD`.
    #[serde(deserialize_with = "moment::date")]
    pub date: Option<String>,
    /// Label of the operator; a made-up word is enough.
    pub operator: Option<String>,
    /// Label of the place.
    pub place: Option<String>,
    /// Where on the desk the inputs were recorded, for all that don't state their own.
    pub tap: Option<Tap>,
    /// Rehearsal or performance.
    pub kind: Option<Kind>,
    /// What the recorded main mix feeds.
    pub main_bus: Option<MainBus>,
    /// What leads the music.
    pub style: Option<Style>,
    /// Which loudness targets hold.
    pub target: Option<Target>,
    /// Air temperature, in °C: the speed of sound depends on it.
    pub air_temperature_c: Option<f64>,
    /// Whether the line check was done before the recording started.
    pub line_check_before_recording: Option<bool>,
    /// Whether this is a night to learn targets from.
    pub good: Option<bool>,
    /// Whether a screen stands around the drums.
    pub drum_screen: Option<bool>,
    /// The agreed level limit.
    pub limit: Option<Limit>,
    /// The hall.
    pub hall: Option<Hall>,
    /// The stage plot.
    pub stage: Option<Stage>,
    /// Songs in their order.
    #[serde(rename = "song")]
    pub songs: Vec<Song>,
    /// Channels, in any order; those left out are inferred.
    #[serde(rename = "channel")]
    pub channels: Vec<ChannelNote>,
}

/// Rehearsal or performance.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// A rehearsal.
    Rehearsal,
    /// A performance or gathering.
    Performance,
}

/// What the recorded main mix feeds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum MainBus {
    /// The loudspeakers of the hall.
    Hall,
    /// A recording bus of its own.
    Record,
    /// A stream.
    Stream,
}

impl MainBus {
    /// The word in `session.toml`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Hall => "hall",
            Self::Record => "record",
            Self::Stream => "stream",
        }
    }
}

/// What leads the music.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Style {
    /// A lead singer with a band.
    SongLed,
    /// Talk, with some music.
    SpeechLed,
    /// A choir.
    ChoirLed,
    /// A band that is loud on purpose.
    LoudBand,
    /// Acoustic instruments.
    Acoustic,
}

impl Style {
    /// The word in `session.toml`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::SongLed => "song-led",
            Self::SpeechLed => "speech-led",
            Self::ChoirLed => "choir-led",
            Self::LoudBand => "loud-band",
            Self::Acoustic => "acoustic",
        }
    }
}

/// Which loudness targets hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Target {
    /// Those of a hall.
    Hall,
    /// Those of a stream.
    Stream,
}

/// The agreed level limit.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Limit {
    /// A-weighted equivalent level at the place of the room microphone, in dB SPL.
    pub laeq_db: f64,
    /// Window of the average, in minutes.
    pub window_min: f64,
}

/// The hall.
#[derive(Clone, Copy, Debug, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Hall {
    /// Volume, in cubic metres.
    pub volume_m3: Option<f64>,
    /// Length, in metres.
    pub length_m: Option<f64>,
    /// Width, in metres.
    pub width_m: Option<f64>,
    /// Height, in metres.
    pub height_m: Option<f64>,
    /// A sweep that was played through the loudspeakers while the hall microphone recorded.
    pub sweep: Option<HallSweep>,
}

/// A sweep whose frequency grows by the same factor each second.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HallSweep {
    /// Begin, in seconds from the start of the session; right within a second.
    #[serde(rename = "start", deserialize_with = "moment::seconds")]
    pub start_s: f64,
    /// Length, in seconds.
    pub length_s: f64,
    /// Frequency at its begin, in Hz.
    pub from_hz: f64,
    /// Frequency at its end, in Hz.
    pub to_hz: f64,
}

/// The stage plot. Axes: x across as the audience sees it, y upstage from the edge, z above the stage floor; metres.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Stage {
    /// Day on which the positions were last checked, `YYYY-MM-DD`.
    #[serde(deserialize_with = "moment::date")]
    pub checked: Option<String>,
    /// Monitor loudspeakers on the floor.
    #[serde(rename = "wedge")]
    pub wedges: Vec<Wedge>,
}

/// A monitor loudspeaker on the floor.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Wedge {
    /// Its label.
    pub name: Option<String>,
    /// Where it stands: x, y, z, in metres.
    #[serde(rename = "position")]
    pub position_m: [f64; 3],
    /// Names of the channels whose players it serves.
    #[serde(default)]
    pub serves: Vec<String>,
}

/// A song.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Song {
    /// Title.
    pub title: String,
    /// Begin, in seconds from the start of the session.
    #[serde(rename = "start", deserialize_with = "moment::seconds")]
    pub start_s: f64,
    /// End, in seconds from the start of the session.
    #[serde(rename = "end", default, deserialize_with = "moment::optional_seconds")]
    pub end_s: Option<f64>,
    /// Who is to be heard when.
    #[serde(default)]
    pub cues: Vec<Cue>,
}

/// A line of a cue sheet: `02:18 fiddle solo`.
#[derive(Clone, Debug, PartialEq)]
pub struct Cue {
    /// When, in seconds from the start of the session.
    pub at_s: f64,
    /// Who or what, as written; a player's, channel's or role's name is looked for in it.
    pub text: String,
}

/// What is known of a channel.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct ChannelNote {
    /// File, relative to the session folder; the first part of a split take.
    pub file: Option<String>,
    /// Channel within the file, from 1.
    pub index: Option<usize>,
    /// Name; without `file` it says which channel is meant.
    pub name: Option<String>,
    /// What it carries.
    #[serde(deserialize_with = "moment::role")]
    pub role: Option<Role>,
    /// Where it was recorded.
    pub tap: Option<Tap>,
    /// Name of the other side of a stereo pair.
    pub partner: Option<String>,
    /// Side in the stereo pair.
    pub side: Option<Side>,
    /// Name of the processed channel that this is the raw tap of.
    pub raw_of: Option<String>,
    /// Name of the raw channel that this is the processed tap of.
    pub processed_of: Option<String>,
    /// Name of the player or singer, as cues say it.
    pub player: Option<String>,
    /// Whether the microphone is wireless.
    pub wireless: Option<bool>,
    /// Whether the player hears by in-ear monitors, or a monitor mix goes to them.
    pub in_ear: Option<bool>,
    /// Whether it comes by wire and not from a microphone.
    pub line: Option<bool>,
    /// Pattern of the microphone.
    pub pattern: Option<Pattern>,
    /// Where the microphone stands: x, y, z, in metres.
    #[serde(rename = "position")]
    pub position_m: Option<[f64; 3]>,
    /// Where the microphone points: a direction of any length.
    pub axis: Option<[f64; 3]>,
    /// Where the fader stood, in dB.
    pub fader_db: Option<f64>,
    /// Whether a child speaks or sings into it: no excerpts, no voice windows.
    pub child: Option<bool>,
    /// Whether to leave it out.
    pub skip: Option<bool>,
    /// Calibration of a room microphone.
    pub calibration: Option<Calibration>,
    /// Whether the recorder of a room microphone sets its level by itself.
    pub level_control: Option<LevelControl>,
    /// Whether it was recorded by a device with its own clock.
    pub own_clock: Option<bool>,
}

/// Pattern of a microphone.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Pattern {
    /// All around.
    Omni,
    /// Wide cardioid.
    Subcardioid,
    /// Deaf at 180 degrees.
    Cardioid,
    /// Deaf at 126 degrees.
    Supercardioid,
    /// Deaf at 109.5 degrees.
    Hypercardioid,
    /// Deaf at 90 degrees.
    FigureEight,
}

/// From digital level to sound pressure: a recorded calibrator tone, or the step.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Calibration {
    /// What to add to dBFS (plain RMS, a full-scale sine reads -3.0) to get dB SPL.
    pub dbfs_to_db_spl: Option<f64>,
    /// File with the tone, relative to the session folder; the channel's own file if left out.
    pub file: Option<String>,
    /// Begin of the tone in its file, in seconds.
    #[serde(rename = "start", deserialize_with = "moment::optional_seconds")]
    pub start_s: Option<f64>,
    /// End of the tone in its file, in seconds.
    #[serde(rename = "end", deserialize_with = "moment::optional_seconds")]
    pub end_s: Option<f64>,
    /// Level of the tone, in dB SPL.
    pub level_db_spl: Option<f64>,
    /// Whether the recorder's gain was touched since: the calibration is void then.
    pub gain_touched: Option<bool>,
}

/// Whether a recorder sets its level by itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LevelControl {
    /// It does.
    On,
    /// It does not.
    Off,
    /// Nobody knows.
    Unknown,
}
