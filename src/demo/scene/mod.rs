//! What a rehearsal to be rendered consists of: hall, stage, band, desk, the evening and what is planted in it.
//!
//! A scene is a TOML file. Unknown keys are errors. Positions are metres: `x` across as the audience sees it (0 in the
//! centre), `y` upstage from the stage edge (the audience has negative `y`), `z` above the stage floor. Times are seconds
//! from the start of the take. A new kind of fault is a variant of [`Fault`].

mod channel;
mod evening;
mod place;

use serde::Deserialize;

pub use channel::{
    Channel, Compressor, Desk, Direct, Effect, Eq, EqKind, Format, Gain, Gate, Microphone, Output,
    OutputKind, Pattern, Strip,
};
pub use evening::{
    Amount, Check, Expected, Fault, Meter, Mode, Move, Planted, Section, Segment, Severity, Song,
    Sound, SoundKind, Strength, Switch, Talk, Trap, Variant,
};
pub use place::{Decay, Hall, Part, Source, Wedge, WedgeFeed};

/// The short evening: 90 seconds.
const CUT: &str = include_str!("../../../corpus/scenes/tallow-street-cut.toml");

/// The whole evening: 8 minutes 20 seconds.
const FULL: &str = include_str!("../../../corpus/scenes/tallow-street-full.toml");

/// A rehearsal to be rendered.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Scene {
    /// Short name of the scene.
    pub name: String,
    /// Title, as `session.toml` shows it.
    pub title: String,
    /// All chance comes from this number.
    pub seed: u64,
    /// Sample rate, in Hz.
    pub rate_hz: u32,
    /// Length of the take, in seconds.
    pub length_s: f64,
    /// Date, `YYYY-MM-DD`.
    pub date: String,
    /// Label of the operator.
    pub operator: String,
    /// Label of the place.
    pub place: String,
    /// Air temperature, in °C.
    pub temperature_c: f64,
    /// Whether the operator noted hall and stage plot in `session.toml`.
    #[serde(default)]
    pub plot_noted: bool,
    /// Whether the truth also tells what every channel's own sources give in it and in all others, measured by rendering each alone.
    #[serde(default)]
    pub alone_told: bool,
    /// The hall.
    pub hall: Hall,
    /// What sounds: players, singers, talkers, audience.
    pub sources: Vec<Source>,
    /// Loudspeakers for players.
    #[serde(default)]
    pub wedges: Vec<Wedge>,
    /// Inputs, in the order of the desk.
    pub channels: Vec<Channel>,
    /// The desk's buses.
    pub desk: Desk,
    /// What is recorded beside the inputs.
    #[serde(default)]
    pub outputs: Vec<Output>,
    /// What happens, in order of time.
    #[serde(default)]
    pub segments: Vec<Segment>,
    /// The songs.
    #[serde(default)]
    pub songs: Vec<Song>,
    /// Spoken words.
    #[serde(default)]
    pub talks: Vec<Talk>,
    /// Inputs heard alone.
    #[serde(default)]
    pub checks: Vec<Check>,
    /// Sounds that are neither song nor speech.
    #[serde(default)]
    pub sounds: Vec<Sound>,
    /// Fader moves.
    #[serde(default)]
    pub moves: Vec<Move>,
    /// Channels opened and closed.
    #[serde(default)]
    pub switches: Vec<Switch>,
    /// Faults of equipment and room.
    #[serde(default)]
    pub faults: Vec<Fault>,
    /// What is planted to be found.
    #[serde(default)]
    pub planted: Vec<Planted>,
    /// What was done well.
    #[serde(default)]
    pub strengths: Vec<Strength>,
    /// What must stay silent.
    #[serde(default)]
    pub traps: Vec<Trap>,
    /// What a review should show, per reader.
    #[serde(default)]
    pub expected: Option<Expected>,
    /// Other takes of the same evening.
    #[serde(default)]
    pub variants: Vec<Variant>,
}

impl Scene {
    /// Reads a scene.
    ///
    /// # Errors
    ///
    /// If the text is no TOML, lacks a key, or has one too many.
    pub fn parse(text: &str) -> Result<Self, toml::de::Error> {
        toml::from_str(text)
    }

    /// The short evening.
    ///
    /// # Panics
    ///
    /// Never: a test reads both built-in scenes.
    pub fn cut() -> Self {
        Self::parse(CUT).expect("the built-in short evening is a scene")
    }

    /// The whole evening.
    ///
    /// # Panics
    ///
    /// Never: a test reads both built-in scenes.
    pub fn full() -> Self {
        Self::parse(FULL).expect("the built-in evening is a scene")
    }

    /// The scene with one of its variants in force, or `None` if there is no such variant.
    pub fn variant(&self, name: &str) -> Option<Self> {
        let variant = self.variants.iter().find(|variant| variant.name == name)?.clone();
        let mut scene = self.clone();
        for channel in scene.channels.iter_mut().filter(|c| variant.channels.contains(&c.name)) {
            if let Some(gain) = variant.gain {
                channel.gain = gain;
            }
            if let Some(format) = variant.format {
                channel.format = format;
            }
            if let (Some(invert), Some(strip)) = (variant.invert, channel.strip.as_mut()) {
                strip.invert = invert;
            }
        }
        scene.planted.retain(|planted| !variant.drops.contains(&planted.rule));
        scene.traps.extend(variant.traps);
        Some(scene)
    }

    /// Place of a source in the list, by name.
    pub fn source_idx(&self, name: &str) -> Option<usize> {
        self.sources.iter().position(|source| source.name == name)
    }

    /// Place of a channel in the list, by name.
    pub fn channel_idx(&self, name: &str) -> Option<usize> {
        self.channels.iter().position(|channel| channel.name == name)
    }

    /// Place of a wedge in the list, by name.
    pub fn wedge_idx(&self, name: &str) -> Option<usize> {
        self.wedges.iter().position(|wedge| wedge.name == name)
    }

    /// Length of the take, in samples.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a length in samples, never negative, far below 2^53"
    )]
    pub fn length_samples(&self) -> usize {
        (self.length_s * f64::from(self.rate_hz)).round().max(0.0) as usize
    }
}
