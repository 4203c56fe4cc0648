//! Facts about the hall, from a microphone in the room.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::unit::{Fact, Span};

/// What a microphone in the room tells of the hall.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct Room {
    /// Id of the microphone's channel.
    pub channel: String,
    /// Decay by octaves, 63 Hz to 8 kHz, as far as the rate holds them.
    pub octaves: Vec<OctaveDecay>,
    /// Decay time for speech and music: mean of 500 Hz and 1 kHz.
    pub decay_s: Fact,
    /// What this rests on.
    pub decay_from: DecayFrom,
    /// Moments that it rests on.
    pub decay_evidence: Vec<Span>,
    /// How the sound falls behind a clap or an impulse made from a sweep, 500 Hz and 1 kHz together, in steps of 20 ms from its highest
    /// point; empty without one.
    pub fall_db: Vec<f64>,
    /// Mean decay time of 63 and 125 Hz over that of 500 Hz and 1 kHz.
    pub low_decay_ratio: Fact,
    /// Decay time that is recommended for speech in a hall of this volume.
    pub recommended_decay_s: Fact,
    /// Longest decay time that is liked for amplified music in a hall of this volume.
    #[serde(default)]
    pub liked_music_decay_s: Option<Fact>,
    /// Speech over the noise of the hall, A-weighted.
    pub speech_over_noise_db: Fact,
    /// What is left of words, 0 to 1: from all of noise and decay to noise alone.
    pub words_index: Fact,
    /// Weight of the low end and of the stage, song by song.
    pub songs: Vec<SongWeight>,
    /// Sound levels; only from a calibrated microphone.
    pub sound: Option<SoundLevels>,
}

impl Room {
    /// Length of a step of [`Room::fall_db`], in seconds.
    pub const FALL_STEP_S: f64 = 0.02;
}

/// Decay in one octave.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct OctaveDecay {
    /// Nominal middle of the octave.
    pub octave_hz: f64,
    /// Early decay time, from 0 to -10 dB behind a clap or a sweep.
    pub early_s: Fact,
    /// From -5 to -25 dB behind a clap or a sweep.
    pub t20_s: Fact,
    /// From -5 to -35 dB behind a clap or a sweep.
    pub t30_s: Fact,
    /// From sudden stops of the music.
    pub stops_s: Fact,
    /// Clarity with 50 ms.
    pub c50_db: Fact,
    /// Clarity with 80 ms.
    pub c80_db: Fact,
    /// Share of the energy of the first 50 ms, 0 to 1.
    pub d50_share: Fact,
}

/// What a decay time rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum DecayFrom {
    /// A sweep through the loudspeakers, as stated.
    Sweep,
    /// A clap or another burst with quiet around it.
    Burst,
    /// Sudden stops of the music.
    Stops,
    /// There is none.
    Nothing,
}

impl DecayFrom {
    /// The same in words, as they follow a time; empty where there is none.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Sweep => "from a sweep",
            Self::Burst => "behind a clap",
            Self::Stops => "from stops of the music",
            Self::Nothing => "",
        }
    }
}

/// Weight of the low end and of the stage in one song.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct SongWeight {
    /// Title.
    pub title: String,
    /// When.
    #[serde(flatten)]
    pub span: Span,
    /// C-weighted minus A-weighted level.
    pub c_minus_a_db: Fact,
    /// What comes straight from the stage over what comes from the loudspeakers, 250 Hz to 4 kHz.
    pub stage_db: Fact,
}

/// Sound levels at the calibrated microphone, re 20 µPa.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct SoundLevels {
    /// A-weighted average of the whole recording.
    pub laeq_db_spl: Fact,
    /// C-weighted average of the whole recording.
    pub lceq_db_spl: Fact,
    /// Highest A-weighted level with the time weighting F.
    pub lafmax_db_spl: Fact,
    /// Highest C-weighted peak.
    pub lcpeak_db_spl: Fact,
    /// When that peak was.
    pub lcpeak_at: Vec<Span>,
    /// Loudest A-weighted average of 15 minutes.
    pub laeq_15_min_db_spl: Fact,
    /// Loudest A-weighted average of 30 minutes.
    pub laeq_30_min_db_spl: Fact,
    /// Daily exposure of somebody who stood there through the recording and nowhere else loud.
    pub daily_exposure_db_spl: Fact,
    /// Share of what 85 dB(A) for 8 h with an exchange rate of 3 dB allows a day, 0 upwards.
    pub dose_percent: Fact,
    /// The same of 90 dB(A) for 8 h with an exchange rate of 5 dB, levels from 80 dB(A) on.
    #[serde(default)]
    pub dose_5_db_percent: Option<Fact>,
    /// The agreed limit, A-weighted, if there is one.
    pub limit: Option<AgreedLimit>,
}

/// The agreed limit and what was heard of it.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct AgreedLimit {
    /// The limit.
    pub limit_db_spl: f64,
    /// Window of the average, in minutes.
    pub window_min: f64,
    /// Loudest average of that window.
    pub loudest_db_spl: Fact,
    /// When that was.
    pub at: Vec<Span>,
}
