//! What a channel carries.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What a channel carries, in the words of the desk.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    /// A talker.
    Speech,
    /// The voice that leads the song.
    LeadVocal,
    /// A voice that accompanies.
    BackingVocal,
    /// A group of singers before distant microphones.
    Choir,
    /// Bass drum.
    Kick,
    /// Snare, beaten head.
    SnareTop,
    /// Snare, rattling head.
    SnareBottom,
    /// Hi-hat.
    HiHat,
    /// Rack or floor tom.
    Tom,
    /// Microphones above the kit.
    Overhead,
    /// Hand drums, shakers and the like.
    Percussion,
    /// Bass guitar, upright or synthesiser bass.
    Bass,
    /// Acoustic guitar and its relatives.
    AcousticGuitar,
    /// Electric guitar.
    ElectricGuitar,
    /// Piano, organ, synthesiser, accordion.
    Keys,
    /// Bowed strings.
    Strings,
    /// Trumpet, trombone and the like.
    Brass,
    /// Reeds and flutes.
    Woodwind,
    /// Something that is already mixed: laptop, video, telephone.
    Playback,
    /// Metronome, count-in, spoken cues.
    Click,
    /// Timecode.
    Timecode,
    /// Talk between desk and stage. Private.
    Talkback,
    /// Return of an effect.
    FxReturn,
    /// A microphone in the hall.
    Room,
    /// The mix that the audience hears.
    Main,
    /// A mix for players.
    MonitorMix,
    /// Not in use.
    Spare,
    /// Not known: neither name nor sound told.
    Unknown,
}

/// Families of roles that share targets and habits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Family {
    /// Speech, lead, backing, choir.
    Voice,
    /// The kit and percussion.
    Drums,
    /// Bass.
    Bass,
    /// Guitars.
    Guitar,
    /// Keys.
    Keys,
    /// Strings and winds.
    Melody,
    /// Playback.
    Playback,
    /// Click, timecode, talkback, effects returns, spare inputs.
    Utility,
    /// Hall microphones.
    Ambience,
    /// Mixes.
    Mix,
    /// Not known.
    Unknown,
}

impl Family {
    /// Whether it hears loops and makes none: a mix, or a microphone in the hall that no loudspeaker plays.
    pub const fn only_hears_loops(self) -> bool {
        matches!(self, Self::Mix | Self::Ambience)
    }
}

impl Role {
    /// Every role, in the order of the desk.
    pub const ALL: [Self; 28] = [
        Self::Speech,
        Self::LeadVocal,
        Self::BackingVocal,
        Self::Choir,
        Self::Kick,
        Self::SnareTop,
        Self::SnareBottom,
        Self::HiHat,
        Self::Tom,
        Self::Overhead,
        Self::Percussion,
        Self::Bass,
        Self::AcousticGuitar,
        Self::ElectricGuitar,
        Self::Keys,
        Self::Strings,
        Self::Brass,
        Self::Woodwind,
        Self::Playback,
        Self::Click,
        Self::Timecode,
        Self::Talkback,
        Self::FxReturn,
        Self::Room,
        Self::Main,
        Self::MonitorMix,
        Self::Spare,
        Self::Unknown,
    ];

    /// The role in words, as tables print it.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Speech => "speech",
            Self::LeadVocal => "lead vocal",
            Self::BackingVocal => "backing vocal",
            Self::Choir => "choir",
            Self::Kick => "kick",
            Self::SnareTop => "snare top",
            Self::SnareBottom => "snare bottom",
            Self::HiHat => "hi-hat",
            Self::Tom => "tom",
            Self::Overhead => "overhead",
            Self::Percussion => "percussion",
            Self::Bass => "bass",
            Self::AcousticGuitar => "acoustic guitar",
            Self::ElectricGuitar => "electric guitar",
            Self::Keys => "keys",
            Self::Strings => "strings",
            Self::Brass => "brass",
            Self::Woodwind => "woodwind",
            Self::Playback => "playback",
            Self::Click => "click",
            Self::Timecode => "timecode",
            Self::Talkback => "talkback",
            Self::FxReturn => "fx return",
            Self::Room => "room",
            Self::Main => "main",
            Self::MonitorMix => "monitor mix",
            Self::Spare => "spare",
            Self::Unknown => "unknown",
        }
    }

    /// The role that a word names: `fx return` and `fx-return`, upper or lower case.
    pub fn from_word(word: &str) -> Option<Self> {
        let plain = |text: &str| text.replace(['-', ' ', '_'], "").to_lowercase();
        Self::ALL.into_iter().find(|role| plain(role.word()) == plain(word))
    }

    /// Whether it is one person's voice.
    pub const fn is_single_voice(self) -> bool {
        matches!(self, Self::Speech | Self::LeadVocal | Self::BackingVocal)
    }

    /// The family that the role belongs to.
    pub const fn family(self) -> Family {
        match self {
            Self::Speech | Self::LeadVocal | Self::BackingVocal | Self::Choir => Family::Voice,
            Self::Kick
            | Self::SnareTop
            | Self::SnareBottom
            | Self::HiHat
            | Self::Tom
            | Self::Overhead
            | Self::Percussion => Family::Drums,
            Self::Bass => Family::Bass,
            Self::AcousticGuitar | Self::ElectricGuitar => Family::Guitar,
            Self::Keys => Family::Keys,
            Self::Strings | Self::Brass | Self::Woodwind => Family::Melody,
            Self::Playback => Family::Playback,
            Self::Click | Self::Timecode | Self::Talkback | Self::FxReturn | Self::Spare => {
                Family::Utility
            }
            Self::Room => Family::Ambience,
            Self::Main | Self::MonitorMix => Family::Mix,
            Self::Unknown => Family::Unknown,
        }
    }

    /// Whether the channel brings a source to the desk (a microphone, a DI, a playback), not a mix, a return or a utility signal.
    pub const fn is_input(self) -> bool {
        !matches!(self.family(), Family::Utility | Family::Ambience | Family::Mix)
    }
}
