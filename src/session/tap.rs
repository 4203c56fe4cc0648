//! Where on the desk a recording was taken.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Where on the desk a recording was taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Tap {
    /// Right after the preamplifier, before high-pass, EQ, dynamics, fader and mute.
    Raw,
    /// After the channel's own processing.
    Processed,
    /// A mix for the audience.
    Mix,
    /// A mix for players.
    Monitor,
    /// The return of an effect.
    Effects,
    /// A microphone in the hall.
    Room,
}

impl Tap {
    /// The tap in a word, as tables print it.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Raw => "raw",
            Self::Processed => "processed",
            Self::Mix => "mix",
            Self::Monitor => "monitor",
            Self::Effects => "effects",
            Self::Room => "room",
        }
    }
}

/// Side of a stereo pair.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Side {
    /// Left.
    Left,
    /// Right.
    Right,
}

/// How a channel's role was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum RoleSource {
    /// Stated in `session.toml`.
    Stated,
    /// From the channel's name.
    Name,
    /// From the sound, the name said nothing.
    Sound,
    /// Neither told.
    None,
}

impl RoleSource {
    /// The source in a word, as tables print it.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Stated => "stated",
            Self::Name => "name",
            Self::Sound => "sound",
            Self::None => "not found",
        }
    }
}
