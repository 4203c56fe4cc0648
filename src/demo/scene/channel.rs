//! What a scene's desk is fed with and how it is set.
//!
//! Plain data, read from TOML. Never computes.

use serde::Deserialize;

use crate::{
    demo::geometry::Point,
    session::{Role, Tap},
};

/// An input.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Channel {
    /// Name on the desk.
    pub name: String,
    /// Number in the file name; none if it is the place on the desk.
    #[serde(default)]
    pub number: Option<u32>,
    /// What it carries.
    pub role: Role,
    /// The microphone; none for a direct input.
    #[serde(default)]
    pub mic: Option<Microphone>,
    /// Sources that come in by cable.
    #[serde(default)]
    pub direct: Vec<Direct>,
    /// The sources it is meant for.
    pub own: Vec<String>,
    /// How the preamplifier is set.
    pub gain: Gain,
    /// Noise of the input, in dBFS RMS; none for a digital input.
    #[serde(default)]
    pub noise_dbfs: Option<f64>,
    /// Where the recording is taken.
    #[serde(default = "raw")]
    pub tap: Tap,
    /// How samples are stored.
    #[serde(default)]
    pub format: Format,
    /// How far the recorder's own clock is off, in parts per million; none where the desk records.
    #[serde(default)]
    pub drift_ppm: Option<f64>,
    /// Settings of the channel; none where it doesn't feed the main mix.
    #[serde(default)]
    pub strip: Option<Strip>,
}

const fn raw() -> Tap {
    Tap::Raw
}

/// How samples are stored.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Format {
    /// Integers of 24 bits.
    #[default]
    Int24,
    /// Floating-point numbers of 32 bits.
    Float32,
}

/// A microphone on the stage plot.
#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Microphone {
    /// Where it stands.
    pub at_m: Point,
    /// Its pattern.
    pub pattern: Pattern,
    /// Where its front looks; of no meaning for an omnidirectional one.
    #[serde(default)]
    pub axis: Point,
}

/// First-order pattern of a microphone.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Pattern {
    /// Hears all around.
    Omni,
    /// Quietest at 180 degrees.
    Cardioid,
    /// Quietest at 126 degrees.
    Supercardioid,
    /// Quietest at 110 degrees.
    Hypercardioid,
}

/// A source that comes in by cable.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Direct {
    /// Name of the source.
    pub source: String,
    /// Level against the source's own, in dB.
    #[serde(default)]
    pub level_db: f64,
}

/// How a preamplifier is set.
#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Gain {
    /// So that the own sources' loud level is this: 95th percentile of the RMS in 400 ms while they sound, in dBFS.
    LoudDbfs(f64),
    /// So that the own sources' highest sample is this, in dBFS.
    PeakDbfs(f64),
    /// So that a tone of this sound pressure level has an RMS of 1, in dB re 20 µPa.
    FullScaleDbSpl(f64),
}

/// Settings of a channel of the desk, in the order in which the signal meets them.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Strip {
    /// Whether polarity is flipped.
    #[serde(default)]
    pub invert: bool,
    /// Corner of the second-order high-pass, in Hz; none if it is off.
    #[serde(default)]
    pub high_pass_hz: Option<f64>,
    /// The gate; none if it is off.
    #[serde(default)]
    pub gate: Option<Gate>,
    /// The equaliser.
    #[serde(default)]
    pub eq: Vec<Eq>,
    /// The compressor; none if it is off.
    #[serde(default)]
    pub compressor: Option<Compressor>,
    /// Fader at the start, in dB.
    pub fader_db: f64,
    /// Pan, -1 (left) to 1 (right).
    #[serde(default)]
    pub pan: f64,
    /// Send to the effect after the fader, in dB; none if it is off.
    #[serde(default)]
    pub send_db: Option<f64>,
    /// Whether the channel is open at the start.
    #[serde(default = "yes")]
    pub open: bool,
}

const fn yes() -> bool {
    true
}

/// Shape of an equaliser band.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum EqKind {
    /// A bell around a frequency.
    Bell,
    /// All below a frequency.
    LowShelf,
    /// All above a frequency.
    HighShelf,
}

/// A band of the equaliser.
#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Eq {
    /// Its shape.
    pub kind: EqKind,
    /// Its frequency, in Hz.
    pub hz: f64,
    /// Its gain, in dB.
    pub gain_db: f64,
    /// Its quality.
    #[serde(default = "butterworth_q")]
    pub q: f64,
}

const fn butterworth_q() -> f64 {
    std::f64::consts::FRAC_1_SQRT_2
}

/// A gate.
#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Gate {
    /// Level that opens it, in dBFS peak.
    pub threshold_dbfs: f64,
    /// Attenuation while it is closed, in dB.
    pub range_db: f64,
    /// How long it stays open after the level fell, in seconds.
    pub hold_s: f64,
    /// How long it takes to close, in seconds.
    pub release_s: f64,
}

/// A compressor.
#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Compressor {
    /// Threshold, in dBFS.
    pub threshold_dbfs: f64,
    /// Ratio.
    pub ratio: f64,
    /// Width of the knee, in dB.
    #[serde(default)]
    pub knee_db: f64,
    /// Attack, in seconds (63 % convention).
    pub attack_s: f64,
    /// Release, in seconds (63 % convention).
    pub release_s: f64,
    /// Gain after compression, in dB.
    #[serde(default)]
    pub makeup_db: f64,
}

/// The desk's buses.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Desk {
    /// Level of the main bus, in dB.
    pub main_db: f64,
    /// The effect; none if there is none.
    #[serde(default)]
    pub effect: Option<Effect>,
}

/// A reverberator and its return.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Effect {
    /// Name of the return, by which faders and switches move it.
    pub name: String,
    /// Decay time, in seconds.
    pub t60_s: f64,
    /// Time before the first reflection, in seconds.
    pub predelay_s: f64,
    /// Fader of the return at the start, in dB.
    pub fader_db: f64,
    /// Whether the return is open at the start.
    #[serde(default = "yes")]
    pub open: bool,
}

/// What is recorded beside the inputs.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Output {
    /// Number in the file name.
    pub number: u32,
    /// Name of the file, and of the track.
    pub name: String,
    /// What it carries.
    pub kind: OutputKind,
    /// For a processed channel: which.
    #[serde(default)]
    pub channel: Option<String>,
    /// For a monitor mix: the wedge that plays it.
    #[serde(default)]
    pub wedge: Option<String>,
}

/// What an output carries.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum OutputKind {
    /// Both sides of the main mix in one file.
    Main,
    /// Left side of the effect's return.
    EffectLeft,
    /// Right side of the effect's return.
    EffectRight,
    /// A channel after its own processing, before mute and fader.
    Processed,
    /// What a wedge is fed with.
    Monitor,
}
