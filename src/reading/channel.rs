//! Facts about one channel.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Microphone;
use crate::session::{Role, RoleSource, Side, Tap};
use crate::unit::{Fact, Span, Unmeasured};

/// Everything known about one channel. Levels are re digital full scale, RMS levels plain (a full-scale sine reads -3.0).
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct Channel {
    /// Stable id within the session: `ch01`.
    pub id: String,
    /// Number on the desk, from 1.
    pub number: usize,
    /// Name on the desk.
    pub name: String,
    /// What it carries.
    pub role: Role,
    /// Confidence of the role, 0 to 1.
    pub role_confidence: f64,
    /// How the role was found.
    pub role_source: RoleSource,
    /// The role that the sound speaks for, where it contradicts the name.
    pub role_by_sound: Option<Role>,
    /// Where the recording was taken.
    pub tap: Tap,
    /// Whether the signal comes by wire (DI, line, playback) and not from a microphone.
    pub is_line: bool,
    /// Whether the player hears by in-ear monitors, or a monitor mix goes to them, as noted.
    #[serde(default)]
    pub is_in_ear: bool,
    /// Id of the other side of a stereo pair.
    pub partner: Option<String>,
    /// Side in its stereo pair.
    pub side: Option<Side>,
    /// Sample rate of the file, in Hz.
    pub rate_hz: u32,
    /// Bits a sample in the file.
    pub bits: u32,
    /// Whether the file holds floating-point samples.
    pub is_float: bool,
    /// Begin in the session, in seconds.
    pub start_s: f64,
    /// Length, in seconds.
    pub duration_s: f64,

    /// When its own source sounds; gaps up to 0.3 s are closed.
    pub active: Vec<Span>,
    /// The same to 43 ms, where it could be followed so closely. Not written: a kick has thousands.
    #[serde(skip)]
    pub sounding: Vec<Span>,
    /// Time in which its own source sounds, in seconds.
    pub active_s: f64,
    /// Confidence of the activity, 0 to 1.
    pub active_confidence: f64,

    /// Loud level: 95th percentile of 400 ms RMS over active frames.
    pub loud_level_dbfs: Fact,
    /// Typical level: median of the same.
    pub typical_level_dbfs: Fact,
    /// Pause level: median while inactive and others play.
    pub pause_level_dbfs: Fact,
    /// Own-to-spill: typical minus pause level.
    pub own_to_spill_db: Fact,
    /// Quiet level: 5th percentile of 1 s RMS in all-quiet stretches.
    pub quiet_level_dbfs: Fact,
    /// Quiet level above 200 Hz, for microphones.
    pub quiet_level_above_200_hz_dbfs: Fact,
    /// Highest sample.
    pub top_peak_dbfs: Fact,
    /// When the highest samples fall (at most five, highest first), in seconds.
    pub top_peaks_at_s: Vec<f64>,
    /// How many peaks lie within 1 dB of the top peak, at least 1 s apart.
    pub n_top_peaks: usize,
    /// True peak (ITU-R BS.1770 annex 2, 16-fold around the top).
    pub true_peak_dbtp: Fact,
    /// 90th percentile of the peaks of hits (drums and percussion).
    pub hit_peak_dbfs: Fact,
    /// Highest momentary loudness.
    pub momentary_max_lufs: Fact,
    /// Highest short-term loudness.
    pub short_term_max_lufs: Fact,
    /// Integrated loudness.
    pub integrated_lufs: Fact,
    /// Loudness range.
    pub loudness_range_lu: Fact,
    /// Crest factor of the whole recording.
    pub crest_db: Fact,
    /// Crest factor of active frames only.
    pub active_crest_db: Fact,
    /// Median over 400 ms windows of peak minus RMS, active frames.
    pub typical_crest_db: Fact,
    /// Level spread: P95 minus P10 of 400 ms K-weighted levels, active frames.
    pub level_spread_lu: Fact,
    /// Spread of phrase levels, P90 minus P10.
    pub phrase_spread_lu: Fact,
    /// Rank correlation of phrase levels with the low end of the phrases (112-224 Hz minus 891-1778 Hz), -1 to 1, voices.
    pub low_end_correlation: Fact,
    /// Spread of note levels (bass), P90 minus P10.
    pub note_spread_db: Fact,
    /// Tone, active frames.
    pub spectrum: Spectrum,
    /// Absolute mean over 10 s blocks, median.
    pub dc_dbfs: Fact,
    /// Mains hum.
    pub hum: Hum,
    /// Flat tops (clipping).
    pub flat_tops: Events,
    /// Longest flat top, in milliseconds; 0 where there is none.
    pub longest_flat_top_ms: f64,
    /// Level of the plateau that the flat tops share, if there are any.
    pub flat_top_level_dbfs: Fact,
    /// Runs of zeros or repeated blocks inside sound.
    pub dropouts: Events,
    /// Clicks.
    pub clicks: Events,
    /// Breath blasts of P and B (voices).
    pub pops: Events,
    /// Bangs that change the floor, as a plug or phantom power makes them (inputs other than drums).
    #[serde(default)]
    pub plug_pops: Events,
    /// Peaks of a mix for ears that no input has; none where it is no such mix.
    #[serde(default)]
    pub ear_spikes: Option<Events>,
    /// How its microphone was set and handled.
    #[serde(default)]
    pub microphone: Microphone,
    /// Share of the recording that is digital silence, 0 to 100.
    pub digital_silence_percent: f64,
    /// Where a compressor or a gate would begin to work on it, from the raw recording alone.
    #[serde(flatten)]
    pub starts: Starts,
    /// What the desk does to it, where it was recorded behind its processing and its raw tap as well.
    pub processing: Option<Processing>,
}

impl Channel {
    /// Whether it brings a source to the desk and was recorded right after the preamplifier.
    pub fn is_raw_input(&self) -> bool {
        self.role.is_input() && self.tap == Tap::Raw
    }
}

/// Settings to start from: suggestions from the raw recording, no measurements of what was set.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Starts {
    /// Threshold at which a compressor of 3:1 turns the loud phrases of a voice down by 7.5 dB: a place to start from.
    pub start_threshold_dbfs: Fact,
    /// Compressors, a usual ratio each; none of a role that usually has no compressor.
    #[serde(default)]
    pub compressor_starts: Vec<CompressorStart>,
    /// A gate; none of a role that usually has no gate.
    #[serde(default)]
    pub gate_start: Option<GateStart>,
}

impl Starts {
    /// No suggestions.
    pub fn none(reason: Unmeasured) -> Self {
        Self {
            start_threshold_dbfs: Fact::missing(reason),
            compressor_starts: Vec::new(),
            gate_start: None,
        }
    }

    /// The thresholds of all compressors and of the gate.
    pub fn thresholds(&self) -> impl Iterator<Item = &Fact> {
        let compressors = self.compressor_starts.iter().map(|one| &one.threshold_dbfs);
        compressors.chain(self.gate_start.iter().map(|one| &one.threshold_dbfs))
    }
}

/// A compressor that turns loud phrases down by a usual amount.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CompressorStart {
    /// Input dB for a dB more at the output.
    pub ratio: f64,
    /// Gain reduction that nine tenths of the programme stay below.
    pub reduction_db: f64,
    /// The threshold that brings it, as a level over 10 ms at the raw tap.
    pub threshold_dbfs: Fact,
}

/// A gate that opens on the channel's own hits and stays closed on spill.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct GateStart {
    /// Where it would have to open, as peaks at the raw tap.
    pub threshold_dbfs: Fact,
    /// Share of the spill above that threshold plus share of its own hits below, 0 to 100.
    pub overlap_percent: Fact,
}

/// What lies between the raw and the processed tap of a channel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Processing {
    /// Id of the raw channel.
    pub raw: String,
    /// Gain without any gain reduction: equaliser, make-up and fader together.
    pub static_gain_db: Fact,
    /// Gain reduction in its loudest minute, median while it sounds.
    pub usual_reduction_db: Fact,
    /// The same, 90th percentile.
    pub loud_reduction_db: Fact,
    /// Share of the programme in which it is above 10.5 dB, 0 to 100.
    pub deep_percent: Fact,
    /// Level of a steady 1 kHz sine at the raw tap that is turned down by 1 dB.
    pub threshold_dbfs: Fact,
    /// Input dB for a dB more at the output.
    pub ratio: Fact,
    /// Width of the knee around the threshold.
    #[serde(default)]
    pub knee_db: Option<Fact>,
    /// Shortest attack that fits, 63 %.
    pub least_attack_s: Fact,
    /// Longest attack that fits, 63 %.
    pub most_attack_s: Fact,
    /// Release, 63 %.
    pub release_s: Fact,
    /// Swing of the gain as far as it keeps time with the music.
    pub pump_db: Fact,
    /// Gain reduction in steps of half a second over what was looked at; empty where it is not known.
    pub reduction_db: Vec<f64>,
    /// What its gate does, where anything closes between the taps.
    #[serde(default)]
    pub gate: Option<Gate>,
}

/// What a gate or an expander between the taps does, in the loudest minute.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Gate {
    /// How deep it closes.
    pub depth_db: Fact,
    /// Share of the time in which it is open, 0 to 100.
    pub open_percent: Fact,
    /// How often it opens again within 80 ms of a closing.
    pub flutters_per_minute: Fact,
    /// Share of its closings that cut what still rings, 0 to 100.
    pub cut_percent: Fact,
    /// How often it cuts what still rings.
    #[serde(default)]
    pub cuts_per_minute: Option<Fact>,
    /// Where it would open on its own hits and stay closed on spill, as peaks at the raw tap.
    pub parting_dbfs: Fact,
    /// Share of the spill above that threshold plus share of its own hits below, 0 to 100.
    pub overlap_percent: Fact,
    /// When it flutters, in seconds: the first hundred at most.
    pub flutter_at_s: Vec<f64>,
    /// When it cuts what still rings, in seconds: the first hundred at most.
    #[serde(default)]
    pub cut_at_s: Vec<f64>,
    /// When it is open, of what was looked at: the first hundred stretches at most.
    pub open: Vec<Span>,
}

impl Processing {
    /// Length of a step of [`Processing::reduction_db`], in seconds.
    pub const REDUCTION_STEP_S: f64 = 0.5;
}

/// Tone of a channel over its active frames.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct Spectrum {
    /// Nominal mid-band frequencies of the third-octaves, in Hz.
    pub third_octave_hz: Vec<f64>,
    /// Level of each third-octave re the channel's total over 25 Hz to 16 kHz, in dB; `None` where no energy was found.
    pub third_octave_db: Vec<Option<f64>>,
    /// Share of each of the ten bands (floor, bass, warmth, thick, body, nose, presence, edge, sizzle, air) re the total.
    pub band_db: Vec<Fact>,
    /// Energy below 0.7 x the role's high-pass corner re the total.
    pub below_corner_db: Fact,
    /// 1778-5623 Hz minus 355-891 Hz in the loudest quarter of phrases.
    pub edge_loud_db: Fact,
    /// How much that figure grows from the quiet half to the loudest quarter.
    pub edge_growth_db: Fact,
    /// 99th percentile of 30 ms level in 4.5-9 kHz minus the loud level.
    pub ess_db: Fact,
    /// Share of active 10 s blocks in which each of the ten bands lies outside its role window, 0 to 100.
    pub band_out_percent: Vec<f64>,
}

/// Mains hum of a channel.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct Hum {
    /// Power of the comb re the loud level.
    pub level_db: Fact,
    /// Mains frequency of the comb.
    pub mains_hz: Fact,
    /// Power above the tenth multiple re the loud level.
    pub buzz_db: Fact,
    /// Where it can be heard.
    pub evidence: Vec<Span>,
}

/// Countable things and when they happen.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Events {
    /// How many.
    pub count: usize,
    /// When, in seconds: the first hundred at most.
    pub at_s: Vec<f64>,
}
