//! Where a scene takes place and what sounds in it.
//!
//! Plain data, read from TOML. Never computes.

use serde::Deserialize;

use crate::demo::geometry::Point;

/// A shoebox hall.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Hall {
    /// Corner with the smallest coordinates: left wall, wall behind the audience, floor of the audience.
    pub low_m: Point,
    /// Corner with the largest coordinates: right wall, wall behind the stage, ceiling.
    pub high_m: Point,
    /// Decay time by octave.
    pub decay: Vec<Decay>,
    /// Pressure that a wall gives back, 0 to 1.
    pub wall_reflection: f64,
    /// Level of the late sound against the value of the room constant, in dB: curtains, people, directed sources.
    pub late_trim_db: f64,
    /// Late tails that a microphone hears: sources share them in turn, so that with several no two neighbours ring alike.
    #[serde(default = "single")]
    pub n_tails: u8,
    /// The loudspeakers for the audience.
    #[serde(default)]
    pub loudspeakers: Vec<Point>,
    /// Sound pressure level at 1 m of one loudspeaker when its side of the main mix stands at -20 dBFS RMS, in dB.
    #[serde(default)]
    pub loudspeaker_db_spl: f64,
}

const fn single() -> u8 {
    1
}

/// Decay time in one octave.
#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Decay {
    /// Middle of the octave, in Hz.
    pub octave_hz: f64,
    /// Time in which the sound falls by 60 dB, in seconds.
    pub t60_s: f64,
}

/// What a source plays, and by it how it sounds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Part {
    /// Bass drum.
    Kick,
    /// Snare, beaten head and shell.
    Snare,
    /// The same hits under the snare.
    SnareUnder,
    /// Hi-hat.
    Hat,
    /// Rack tom.
    Rack,
    /// Floor tom.
    Floor,
    /// Crash cymbal.
    Crash,
    /// Ride cymbal.
    Ride,
    /// Hand drum box.
    Cajon,
    /// Bass line.
    Bass,
    /// Strummed chords.
    Strum,
    /// Electric guitar: chords and fills.
    Riff,
    /// Stage piano, left output.
    KeysLeft,
    /// Stage piano, right output.
    KeysRight,
    /// Synthesiser: held notes.
    Pad,
    /// Fiddle.
    Fiddle,
    /// Trumpet.
    Trumpet,
    /// Lead voice.
    Lead,
    /// Backing voice a third above.
    Above,
    /// Backing voice below.
    Below,
    /// A singer of the choir; the singer's number picks the voice.
    Choir,
    /// Host, spoken.
    Host,
    /// Operator, spoken.
    Operator,
    /// A mixed recording.
    Playback,
    /// Metronome.
    Click,
    /// Audience: applause.
    Crowd,
    /// One clap of two boards.
    Clap,
    /// Electric guitar through a driven amplifier: low chords, solos.
    Drive,
    /// Cello.
    Cello,
    /// Clarinet.
    Clarinet,
    /// Saxophone.
    Sax,
    /// Accordion.
    Accordion,
    /// Electric organ, left output.
    OrganLeft,
    /// Electric organ, right output.
    OrganRight,
}

impl Part {
    /// The part that a second side of one thing belongs to: the rattling head to its drum, a right output to the left one.
    pub const fn main(self) -> Self {
        match self {
            Self::SnareUnder => Self::Snare,
            Self::KeysRight => Self::KeysLeft,
            Self::OrganRight => Self::OrganLeft,
            part => part,
        }
    }
}

/// Something that sounds.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Source {
    /// Name within the scene.
    pub name: String,
    /// What it plays.
    pub part: Part,
    /// Where it sounds; none for what reaches the desk by cable alone.
    pub at_m: Option<Point>,
    /// Loud level at 1 m, in dB re 20 µPa (95th percentile of the RMS in 400 ms while it sounds).
    #[serde(default)]
    pub loud_db_spl: f64,
    /// Which way it radiates.
    #[serde(default)]
    pub facing: Option<Point>,
    /// Omnidirectional part of its first-order radiation, 1 (all around) to 0.5.
    #[serde(default = "all_around")]
    pub omni: f64,
    /// Tells singers of one part apart.
    #[serde(default)]
    pub singer: u8,
    /// Size of drum, cymbal or singer against the usual one.
    #[serde(default = "usual")]
    pub size: f64,
    /// Octaves above where the part usually lies.
    #[serde(default)]
    pub octave: i8,
}

const fn usual() -> f64 {
    1.0
}

const fn all_around() -> f64 {
    1.0
}

/// A loudspeaker for players.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Wedge {
    /// Name within the scene.
    pub name: String,
    /// Where it stands.
    pub at_m: Point,
    /// The point it is turned to.
    pub towards_m: Point,
    /// Channels of the players and singers it is for.
    #[serde(default)]
    pub serves: Vec<String>,
    /// What it plays.
    pub feeds: Vec<WedgeFeed>,
}

/// What a wedge plays of a source.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WedgeFeed {
    /// Name of the source.
    pub source: String,
    /// Loud level at 1 m of the wedge, in dB re 20 µPa.
    pub loud_db_spl: f64,
}
