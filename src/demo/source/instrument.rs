//! What can sound on the stage, and the one door to every renderer.
//!
//! Takes notes, gives the dry mono signal. Never adds room, spill or noise.

use crate::demo::random::Random;
use crate::demo::source::canvas::Canvas;
use crate::demo::source::{cymbals, drums, hall, keys, line, plucked, singing, speech};

/// One event of a part: a note, a hit, a sung syllable or an utterance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Note {
    /// Where it begins, in seconds from the first sample.
    pub start_s: f64,
    /// How long it is held, in seconds. Hits ring as long as they like; utterances fill it.
    pub length_s: f64,
    /// Pitch as a MIDI number: 69 is 440 Hz, 12 an octave; fractions are lawful. Unpitched sources ignore it.
    pub pitch: f64,
    /// Loudness from 0 to 1: 0.8 is the loud level of the instrument, each 0.1 is 3 dB.
    pub velocity: f64,
}

/// What can sound.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Instrument {
    /// Bass drum.
    Kick,
    /// Snare drum above the beaten head.
    SnareTop,
    /// The same hits below the rattling head: the shell's tone comes out inverted.
    SnareBottom,
    /// Hi-hat: a note of 0.25 s or more is played open, a shorter one closed.
    HiHat,
    /// Rack tom.
    RackTom,
    /// Floor tom.
    FloorTom,
    /// Crash cymbal.
    Crash,
    /// Ride cymbal.
    Ride,
    /// Cajon: pitch 60 and above is the slap, below it the bass stroke.
    Cajon,
    /// Electric bass at its socket.
    Bass,
    /// Acoustic guitar at its socket.
    AcousticGuitar,
    /// Electric guitar from its amplifier, slightly driven.
    ElectricGuitar,
    /// Stage piano, left output.
    KeysLeft,
    /// Stage piano, right output: the same notes, slightly different.
    KeysRight,
    /// Fiddle.
    Fiddle,
    /// Trumpet.
    Trumpet,
    /// The voice that leads: a note is a syllable.
    LeadVoice,
    /// A voice that accompanies; the number tells singers apart.
    BackingVoice(u8),
    /// Fourteen singers at one point: simultaneous notes are shared out among them.
    Choir,
    /// One of the fourteen, 0 to 13: the same notes, only this singer's share.
    ChoirSinger(u8),
    /// A talker with a microphone in the hand: a note is an utterance.
    Host,
    /// The talker at the desk: a note is an utterance.
    Talkback,
    /// One clap of two boards, rich from the lowest octave up.
    Clap,
    /// Applause of some 150 people, as long as the note.
    Applause,
    /// Metronome: all clicks of one pitch are equal to the last bit.
    Click,
    /// Synthesiser, a steady held tone.
    SynthPad,
    /// Electric guitar through an amplifier driven far.
    DrivenGuitar,
    /// Cello.
    Cello,
    /// Clarinet.
    Clarinet,
    /// Saxophone.
    Saxophone,
    /// Accordion: two reeds a note, a little apart.
    Accordion,
    /// Electric organ, left output.
    OrganLeft,
    /// Electric organ, right output: the same stops, in other phases.
    OrganRight,
}

impl Instrument {
    /// Instruments of one number share their random streams: two microphones or outputs of one thing.
    fn family(self) -> u64 {
        match self {
            Self::Kick => 1,
            Self::SnareTop | Self::SnareBottom => 2,
            Self::HiHat => 3,
            Self::RackTom => 4,
            Self::FloorTom => 5,
            Self::Crash => 6,
            Self::Ride => 7,
            Self::Cajon => 8,
            Self::Bass => 9,
            Self::AcousticGuitar => 10,
            Self::ElectricGuitar => 11,
            Self::KeysLeft | Self::KeysRight => 12,
            Self::Fiddle => 13,
            Self::Trumpet => 14,
            Self::LeadVoice => 15,
            Self::Choir | Self::ChoirSinger(_) => 16,
            Self::Host => 17,
            Self::Talkback => 18,
            Self::Clap => 19,
            Self::Applause => 20,
            Self::Click => 21,
            Self::SynthPad => 22,
            Self::DrivenGuitar => 23,
            Self::Cello => 24,
            Self::Clarinet => 25,
            Self::Saxophone => 26,
            Self::Accordion => 27,
            Self::OrganLeft | Self::OrganRight => 28,
            Self::BackingVoice(number) => 100 + u64::from(number),
        }
    }
}

/// Renders a part: the dry mono signal, as heard at 1 m on the axis.
///
/// The active RMS of a part at velocity 0.8 is near -20 dBFS whatever the instrument, so drums peak above full scale. A clap
/// peaks near full scale, a click at it at velocity 1. Same notes and seed, same samples. [`Instrument::SnareTop`] and
/// [`Instrument::SnareBottom`], and [`Instrument::KeysLeft`] and [`Instrument::KeysRight`], belong together when rendered from the same
/// notes and seed. Notes that end after the last sample are cut.
pub fn render(
    instrument: Instrument,
    notes: &[Note],
    length_samples: usize,
    rate_hz: u32,
    seed: u64,
) -> Vec<f32> {
    render_sized(instrument, 1.0, notes, length_samples, rate_hz, seed)
}

/// Like [`render`], for an instrument or singer that is larger (above 1) or smaller than usual: drums and cymbals sound lower
/// and longer by that ratio, voices have lower resonances; others ignore it.
pub fn render_sized(
    instrument: Instrument,
    size: f64,
    notes: &[Note],
    length_samples: usize,
    rate_hz: u32,
    seed: u64,
) -> Vec<f32> {
    let canvas = Canvas::new(length_samples, rate_hz);
    let seed = Random::branch(seed, instrument.family()).next_u64();
    match instrument {
        Instrument::Kick
        | Instrument::SnareTop
        | Instrument::SnareBottom
        | Instrument::RackTom
        | Instrument::FloorTom
        | Instrument::Cajon => drums::render(instrument, canvas, notes, size, seed),
        Instrument::HiHat | Instrument::Crash | Instrument::Ride => {
            cymbals::render(instrument, canvas, notes, size, seed)
        }
        Instrument::Bass
        | Instrument::AcousticGuitar
        | Instrument::ElectricGuitar
        | Instrument::DrivenGuitar => plucked::render(instrument, canvas, notes, seed),
        Instrument::KeysLeft | Instrument::KeysRight => {
            keys::render(instrument, canvas, notes, seed)
        }
        Instrument::Fiddle
        | Instrument::Trumpet
        | Instrument::SynthPad
        | Instrument::Cello
        | Instrument::Clarinet
        | Instrument::Saxophone
        | Instrument::Accordion
        | Instrument::OrganLeft
        | Instrument::OrganRight => line::render(instrument, canvas, notes, seed),
        Instrument::LeadVoice | Instrument::BackingVoice(_) => {
            singing::render(instrument, canvas, notes, size, seed)
        }
        Instrument::Choir => singing::render_choir(canvas, notes, None, seed),
        Instrument::ChoirSinger(number) => singing::render_choir(canvas, notes, Some(number), seed),
        Instrument::Host | Instrument::Talkback => speech::render(instrument, canvas, notes, seed),
        Instrument::Clap | Instrument::Applause | Instrument::Click => {
            hall::render(instrument, canvas, notes, seed)
        }
    }
}
