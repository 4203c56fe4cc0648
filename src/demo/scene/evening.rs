//! What happens in a scene, and what is planted in it.
//!
//! Plain data, read from TOML; what is planted is also written to the truth as it stands. Never computes.

use serde::{Deserialize, Serialize};

use super::{Format, Gain, Part};

/// A stretch of the evening.
#[derive(Clone, Debug, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Segment {
    /// What happens: `line-check`, `silence`, `talk`, `song`, `playback`.
    pub kind: String,
    /// Title of the song.
    #[serde(default)]
    pub title: String,
    /// Start, in seconds.
    pub start_s: f64,
    /// End, in seconds.
    pub end_s: f64,
}

/// How a song is counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub enum Meter {
    /// Four quarters a bar, counted in quarters.
    #[serde(rename = "4/4")]
    Four,
    /// Six eighths a bar, counted in dotted quarters.
    #[serde(rename = "6/8")]
    Six,
}

/// Major or minor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Mode {
    /// Major.
    Major,
    /// Natural minor.
    Minor,
}

/// A song.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Song {
    /// Title.
    pub title: String,
    /// First beat, in seconds.
    pub start_s: f64,
    /// Counted beats a minute.
    pub beats_per_minute: f64,
    /// How it is counted.
    pub meter: Meter,
    /// Tonic, as a MIDI note from 55 to 66.
    pub tonic_midi: u8,
    /// Major or minor.
    pub mode: Mode,
    /// Its sections, in order.
    pub sections: Vec<Section>,
}

/// A section of a song.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Section {
    /// What it is called: `verse`. The same name with the same chords has the same tune.
    pub name: String,
    /// Bars.
    pub n_bars: u32,
    /// Chords by step of the scale, 1 to 7, one a bar, repeated.
    pub chords: Vec<u8>,
    /// Who plays.
    pub parts: Vec<Part>,
    /// How hard they play, 0 to 1.
    pub velocity: f64,
    /// The part that leads here.
    #[serde(default)]
    pub solo: Option<Part>,
}

/// Spoken words.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Talk {
    /// Who speaks.
    pub source: String,
    /// First word, in seconds.
    pub start_s: f64,
    /// Last word, in seconds.
    pub end_s: f64,
    /// How hard, 0 to 1.
    #[serde(default = "plain")]
    pub velocity: f64,
}

const fn plain() -> f64 {
    0.7
}

/// An input heard alone.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Check {
    /// Which sources play, all at once.
    pub sources: Vec<String>,
    /// From when, in seconds.
    pub start_s: f64,
    /// Until when, in seconds.
    pub end_s: f64,
}

/// A sound that is neither song nor speech.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sound {
    /// Which source.
    pub source: String,
    /// What it does.
    pub kind: SoundKind,
    /// From when, in seconds.
    pub start_s: f64,
    /// Until when, in seconds.
    pub end_s: f64,
    /// MIDI note, where it has one.
    #[serde(default)]
    pub pitch_midi: Option<u8>,
}

/// What a sound does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SoundKind {
    /// Plays the recording.
    Playback,
    /// Holds one note.
    Held,
    /// Claps once.
    Clap,
    /// Applauds.
    Applause,
    /// One short loud word.
    Shout,
}

/// A fader move.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Move {
    /// Which channels, or the effect's return.
    pub channels: Vec<String>,
    /// When it starts, in seconds.
    pub at_s: f64,
    /// How long it takes, in seconds.
    pub ramp_s: f64,
    /// Where the fader ends, in dB.
    pub fader_db: f64,
}

/// Channels opened or closed.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Switch {
    /// Which channels, or the effect's return.
    pub channels: Vec<String>,
    /// When, in seconds.
    pub at_s: f64,
    /// Whether they are open from then on.
    pub open: bool,
}

/// A fault of equipment or room. Levels are against the preamplifier's output.
#[derive(Clone, Debug, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Fault {
    /// Mains hum with its multiples, all the time.
    Hum {
        /// Which channel.
        channel: String,
        /// Mains frequency, in Hz.
        mains_hz: f64,
        /// Its level against the channel's loud level, in dB.
        re_loud_db: f64,
    },
    /// Noise below 60 Hz, while the own source sounds and between.
    Rumble {
        /// Which channels.
        channels: Vec<String>,
        /// Its level against the channel's loud level, in dB.
        re_loud_db: f64,
    },
    /// Feedback that grows and is stopped.
    Howl {
        /// Which channel.
        channel: String,
        /// When it is first heard, in seconds.
        start_s: f64,
        /// How long, in seconds.
        length_s: f64,
        /// Frequency, in Hz.
        hz: f64,
        /// Its level when it is stopped, in dBFS peak.
        peak_dbfs: f64,
    },
    /// A channel on the edge of feedback: one frequency hangs on.
    Ring {
        /// Which channel.
        channel: String,
        /// From when, in seconds.
        start_s: f64,
        /// Until when, in seconds.
        end_s: f64,
        /// Frequency, in Hz.
        hz: f64,
        /// Decay time of that frequency, in seconds.
        t60_s: f64,
        /// Gain at that frequency, in dB.
        gain_db: f64,
    },
}

/// How bad.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// Near the target.
    Amber,
    /// Outside it.
    Red,
}

/// An amount with its unit.
#[derive(Clone, Debug, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Amount {
    /// The number.
    pub value: f64,
    /// Its unit, as rules print it.
    pub unit: String,
}

/// Something planted to be found.
#[derive(Clone, Debug, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Planted {
    /// The rule that should find it.
    pub rule: String,
    /// The channels it is on.
    #[serde(default)]
    pub channels: Vec<String>,
    /// From when, in seconds; none if all the time.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub start_s: Option<f64>,
    /// Until when, in seconds; none if all the time.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub end_s: Option<f64>,
    /// How much.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub amount: Option<Amount>,
    /// How bad.
    pub severity: Severity,
    /// The planted rule that explains it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub explained_by: Option<String>,
}

/// Something done well.
#[derive(Clone, Debug, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Strength {
    /// The rule whose target was met.
    pub rule: String,
    /// The channels.
    #[serde(default)]
    pub channels: Vec<String>,
    /// From when, in seconds.
    pub start_s: f64,
    /// Until when, in seconds.
    pub end_s: f64,
}

/// Something that looks like a fault and is none.
#[derive(Clone, Debug, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Trap {
    /// What it is.
    pub what: String,
    /// The rules that must stay silent.
    pub rules: Vec<String>,
    /// The channels it is on.
    #[serde(default)]
    pub channels: Vec<String>,
    /// From when, in seconds; none if all the time.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub start_s: Option<f64>,
    /// Until when, in seconds; none if all the time.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub end_s: Option<f64>,
}

/// What a review should show, per reader.
#[derive(Clone, Debug, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Expected {
    /// Notes on the trainee's page, in order.
    pub trainee_notes: Vec<String>,
    /// The trainee's focus.
    pub focus: String,
    /// The strength named.
    pub strength: String,
    /// On the lead's page.
    pub lead: Vec<String>,
}

/// Another take of the same evening.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Variant {
    /// Its name.
    pub name: String,
    /// The channels that differ.
    pub channels: Vec<String>,
    /// How their preamplifiers are set.
    #[serde(default)]
    pub gain: Option<Gain>,
    /// How their samples are stored.
    #[serde(default)]
    pub format: Option<Format>,
    /// Whether the desk flips them.
    #[serde(default)]
    pub invert: Option<bool>,
    /// Planted rules that no longer hold.
    #[serde(default)]
    pub drops: Vec<String>,
    /// Further traps.
    #[serde(default)]
    pub traps: Vec<Trap>,
}
