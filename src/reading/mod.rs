//! Every fact about a session, as plain data.
//!
//! `run` fills a [`Reading`]; `coach` and `report` only look at it. It holds no samples, no path of a machine
//! and no clock time of the run, so that the same recordings give the same bytes.

mod channel;
mod feedback;
mod main_mix;
mod microphone;
mod mix;
mod pair;
mod recorder;
mod room;
mod session;

pub use channel::{
    Channel, CompressorStart, Events, Gate, GateStart, Hum, Processing, Spectrum, Starts,
};
pub use feedback::{Feedback, Howl, Ring, Ringing, WedgeDirection};
pub use main_mix::{Jump, MainMix, SongLoudness};
pub use microphone::{GainStep, Microphone, TrebleFall, WedgeSound};
pub use mix::{
    BackingMix, Entry, Idle, LeadMix, Mix, MixChannel, MixSection, OpenPair, SoloMix, SongMix,
    Switched, TakenOver,
};
pub use pair::{Kinship, Pair};
pub use recorder::Recorder;
pub use room::{AgreedLimit, DecayFrom, OctaveDecay, Room, SongWeight, SoundLevels};
pub use session::{LineCheck, Segment, SegmentKind, SessionFacts};

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::session::Role;
use crate::unit::Span;

/// Every fact about a session.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct Reading {
    /// The session as a whole.
    pub session: SessionFacts,
    /// The channels, in desk order.
    pub channels: Vec<Channel>,
    /// What two channels say about each other.
    pub pairs: Vec<Pair>,
    /// The mix that the audience hears, if it was recorded.
    pub main: Option<MainMix>,
    /// What the operator did with the mix, if channels and main mix were recorded together.
    pub mix: Option<Mix>,
    /// Recorders beside the one that recorded most channels and that of the main mix.
    #[serde(default)]
    pub recorders: Vec<Recorder>,
    /// Howls, and rings on the edge of feedback.
    pub feedback: Feedback,
    /// What a microphone in the hall tells.
    pub room: Option<Room>,
    /// The session cut into talk, songs, playback and the rest, in order, without gaps.
    pub segments: Vec<Segment>,
    /// The line check before the first song.
    pub line_check: LineCheck,
    /// Stretches in which every channel is quiet.
    pub quiet: Vec<Span>,
    /// What was repaired or could not be read, one sentence each.
    pub warnings: Vec<String>,
}

impl Reading {
    /// The channels with one of the roles, in desk order.
    pub fn with_role<'a>(&'a self, roles: &'a [Role]) -> impl Iterator<Item = &'a Channel> {
        self.channels.iter().filter(|channel| roles.contains(&channel.role))
    }

    /// The channel with an id.
    pub fn channel(&self, id: &str) -> Option<&Channel> {
        self.channels.iter().find(|channel| channel.id == id)
    }

    /// What the desk does to a channel that was recorded on both sides of its processing; either side may be named.
    pub fn processing(&self, id: &str) -> Option<&Processing> {
        self.channels.iter().find_map(|channel| {
            let between = channel.processing.as_ref()?;
            (channel.id == id || between.raw == id).then_some(between)
        })
    }

    /// Raw channels whose processed tap was recorded too, each with what lies between the taps.
    pub fn between_taps(&self) -> impl Iterator<Item = (&Channel, &Processing)> + Clone {
        self.channels.iter().filter_map(|channel| {
            let processing = channel.processing.as_ref()?;
            Some((self.channel(&processing.raw)?, processing))
        })
    }

    /// Time in which something is played or said, in seconds: all segments but silence; the whole session where there are none.
    pub fn programme_s(&self) -> f64 {
        if self.segments.is_empty() {
            return self.session.duration_s;
        }
        let is_programme = |segment: &&Segment| segment.kind != SegmentKind::Silence;
        self.segments.iter().filter(is_programme).map(|segment| segment.span.length_s()).sum()
    }

    /// The segments of a kind, in order.
    pub fn segments_of(&self, kind: SegmentKind) -> impl Iterator<Item = &Segment> {
        self.segments.iter().filter(move |segment| segment.kind == kind)
    }
}
