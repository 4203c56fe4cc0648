//! Facts about the mix that the audience hears.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::unit::{Fact, Span};

/// What is known of the main mix as recorded.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct MainMix {
    /// Id of the left (or only) channel.
    pub left: String,
    /// Id of the right channel.
    pub right: Option<String>,
    /// Integrated loudness of the programme.
    pub integrated_lufs: Fact,
    /// Loudness range.
    pub loudness_range_lu: Fact,
    /// Highest true peak of the two sides.
    pub true_peak_dbtp: Fact,
    /// Loudness of (L+R)/2 on both sides minus loudness of L/R, worst song.
    pub mono_fold_lu: Fact,
    /// The same within 224-3548 Hz.
    pub mono_fold_mid_lu: Fact,
    /// Loudness of L minus R, median over 60 s blocks.
    pub lean_lu: Fact,
    /// Time in which the size of that difference is above 3 LU, in seconds.
    pub lean_s: f64,
    /// Slope of third-octave levels from 100 Hz to 4 kHz, songs.
    pub tilt_db_per_octave: Fact,
    /// Share of song time in which the short-term crest is below 8 dB, 0 to 100.
    pub squashed_percent: Fact,
    /// Loudness of talk segments minus loudness of songs.
    pub speech_vs_song_lu: Fact,
    /// Seconds of talk behind that figure.
    pub speech_s: f64,
    /// Loudness of each song, with its segment's place.
    pub songs: Vec<SongLoudness>,
    /// Jumps at borders between segments.
    pub jumps: Vec<Jump>,
    /// Slope of song loudness over time.
    pub creep_db_per_hour: Fact,
}

/// Loudness of one song in the main mix.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct SongLoudness {
    /// Title.
    pub title: String,
    /// When.
    #[serde(flatten)]
    pub span: Span,
    /// Integrated loudness within the song.
    pub loudness_lufs: Fact,
    /// Loudness of (L+R)/2 on both sides minus loudness of L/R, within the song.
    pub mono_fold_lu: Fact,
    /// The same within 224-3548 Hz.
    pub mono_fold_mid_lu: Fact,
}

/// A change of loudness at a border between segments.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct Jump {
    /// When.
    pub at_s: f64,
    /// What ends and what begins, in words.
    pub from_to: String,
    /// Whether both sides are of one kind, or playback against song.
    pub like_to_like: bool,
    /// Loudness after minus before.
    pub step_lu: Fact,
}
