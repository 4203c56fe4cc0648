//! Facts about the session as a whole, and its segments.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::unit::{Fact, Span};

/// The session as a whole.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct SessionFacts {
    /// Its name: from `session.toml`, else the folder's.
    pub name: String,
    /// Its date, `YYYY-MM-DD`, if stated or found in the recordings.
    pub date: Option<String>,
    /// Label of the operator, if stated.
    pub operator: Option<String>,
    /// Label of the place, if stated.
    pub place: Option<String>,
    /// Whether it was a rehearsal (the default) and not a performance.
    pub is_rehearsal: bool,
    /// What the recorded main mix feeds: `hall` (the default), `record` or `stream`.
    pub main_bus: String,
    /// Style preset: `song-led` (the default), `speech-led`, `choir-led`, `loud-band`, `acoustic`.
    pub style: String,
    /// Whether the line check was done before the recording started, if stated.
    pub line_check_before_recording: Option<bool>,
    /// Whether the team marked it as a night to learn its own targets from, if stated.
    pub is_good: Option<bool>,
    /// Whether the tap of the channels was stated and not only inferred.
    pub taps_stated: bool,
    /// Sample rate of the session, in Hz.
    pub rate_hz: u32,
    /// Length, in seconds.
    pub duration_s: f64,
    /// Longest difference between the lengths of two channels, in seconds.
    pub length_spread_s: f64,
    /// Whether the files have more than one sample rate.
    pub mixed_rates: bool,
    /// Largest quotient of two channels' lengths that speaks of a wrong clock (near 1.088), if there is one.
    pub clock_ratio: Option<f64>,
}

/// What happens in a segment.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum SegmentKind {
    /// One person speaks to the audience.
    Talk,
    /// The band plays a song.
    Song,
    /// A recording is played.
    Playback,
    /// Musicians talk, stop, repeat.
    BandTalk,
    /// Inputs are heard one after the other.
    LineCheck,
    /// Tuning, one player, noodling.
    OtherPlaying,
    /// Nobody plays or speaks.
    Silence,
}

impl SegmentKind {
    /// The kind in words.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Talk => "talk",
            Self::Song => "song",
            Self::Playback => "playback",
            Self::BandTalk => "band talk or stop",
            Self::LineCheck => "line check",
            Self::OtherPlaying => "other playing",
            Self::Silence => "silence",
        }
    }
}

/// One stretch of the session.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Segment {
    /// What happens.
    pub kind: SegmentKind,
    /// Title of the song, or `song 2` where none is stated; empty for other kinds.
    pub title: String,
    /// When.
    #[serde(flatten)]
    pub span: Span,
    /// Confidence of the kind, 0 to 1.
    pub confidence: f64,
}

/// How complete the line check before the first song was.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct LineCheck {
    /// Share of used inputs that were heard alone for 2 s or more, 0 to 100.
    pub heard_percent: Fact,
    /// How many were.
    pub n_heard: usize,
    /// Ids of the used inputs that were not.
    pub missing: Vec<String>,
    /// From the first input that was heard alone to the last.
    pub evidence: Vec<Span>,
}
