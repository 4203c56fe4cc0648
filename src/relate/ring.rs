//! # Rings on the stage
//!
//! Where a loop just under the edge begins, from what every channel shows of it while somebody talks.
//!
//! - **Formula:** rings of channels whose frequencies lie within 3 Hz and whose times lie within 30 s are one. It is heard in all
//!   channels in which it stands out by 6 dB on the mean of the stretches of 3 s in which it rings. It comes from the talker's
//!   microphone in which it stands out most, of those that ring by themselves, else of those that hear it, 6 dB less than a choir's at
//!   most; where there is none, from the choir's microphone in which it does; else it is told of the mix or the hall that shows it,
//!   without a microphone. None, where no talker's microphone rings by itself: a line input holds that frequency meanwhile; or it
//!   rings from afar only (hall, choir) and none of the mixes that were recorded holds it
//! - **Unit:** Hz; s
//! - **Range:** as in the channels
//! - **Source:** common practice: a loop goes through a microphone, a mix and a loudspeaker, so that each of them rings
//! - **Window:** talk
//! - **No value:** never; nothing rings where no channel shows it
//! - **Misleads when:** the loop of a microphone that was not recorded is heard by another one

use super::howl::Place;
use crate::measure::howl::{Ear, HowlTrack, NearRing, heard_db, near_rings};
use crate::unit::Span;

/// Frequencies of two channels are one within this, in Hz.
const SAME_HZ: f64 = 3.0;

/// Times of two channels are one within this, in seconds.
const TOUCH_S: f64 = 30.0;

/// How much less a loop stands out beside the voice in the microphone that it comes from than in a choir's, in dB: in trials 44 of 45
/// loops were named rightly so, and without this bound three in ten of the choir's went to the talker.
const VOICE_COVERS_DB: f64 = 6.0;

/// A channel in which rings are looked for, or a line input that may play what seems to ring.
#[derive(Clone, Copy, Debug)]
pub struct Listening<'a> {
    /// What it is.
    pub place: Place,
    /// How it hears whoever talks; `None` where rings are not looked for.
    pub ear: Option<Ear>,
    /// What it holds.
    pub track: &'a HowlTrack,
}

impl Listening<'_> {
    /// Whether it may be where the loop begins.
    fn is_source(&self) -> bool {
        self.place == Place::Microphone && self.ear.is_some()
    }

    fn heard_db(&self, ring: &NearRing) -> Option<f64> {
        self.ear.and_then(|_| heard_db(self.track, ring.hz, &ring.at))
    }
}

/// A ring and the channels that show it.
#[derive(Clone, Debug, PartialEq)]
pub struct StageRing {
    /// As in the channel that shows it best.
    pub ring: NearRing,
    /// Number of the microphone that it comes from; of a mix or a hall microphone where no microphone shows it.
    pub source: usize,
    /// Numbers of all channels that show it.
    pub heard_in: Vec<usize>,
}

/// The rings of all channels in talk, each told once; the one that rings longest first.
pub fn stage_rings(channels: &[Listening<'_>], talk: &[Span]) -> Vec<StageRing> {
    let mut all: Vec<(usize, NearRing)> = Vec::new();
    for (idx, channel) in channels.iter().enumerate() {
        let rings = channel.ear.map(|ear| near_rings(channel.track, talk, ear));
        all.extend(rings.into_iter().flatten().map(|ring| (idx, ring)));
    }
    // What a talker's own microphone shows comes from it: beside the voice a loop has to be strong to be seen at all, while all that a
    // choir's microphone hears comes out of the loudspeaker.
    let rank = |idx: usize| match channels[idx].ear {
        Some(Ear::Close) => 0,
        _ if channels[idx].is_source() => 1,
        Some(Ear::Mixed) => 2,
        _ => 3,
    };
    all.sort_by(|a, b| rank(a.0).cmp(&rank(b.0)).then(b.1.over_db.total_cmp(&a.1.over_db)));
    let mut told: Vec<StageRing> = Vec::new();
    for (idx, ring) in all {
        match told.iter_mut().find(|one| is_one(&one.ring, &ring)) {
            Some(one) => one.heard_in.push(idx),
            None => told.push(StageRing { ring, source: idx, heard_in: vec![idx] }),
        }
    }
    let mut told: Vec<StageRing> =
        told.into_iter().filter_map(|one| confirmed(one, channels)).collect();
    told.sort_by(|a, b| b.ring.rings_s.total_cmp(&a.ring.rings_s));
    told
}

/// The same with its microphone and all that hear it; `None` for what is no loop.
fn confirmed(one: StageRing, channels: &[Listening<'_>]) -> Option<StageRing> {
    let StageRing { ring, mut source, heard_in } = one;
    let heard: Vec<Option<f64>> = channels.iter().map(|channel| channel.heard_db(&ring)).collect();
    let holds = |idx: usize| heard[idx].is_some() || heard_in.contains(&idx);
    let ear = channels[source].ear?;
    if ear != Ear::Close {
        let is_played = channels.iter().any(|channel| plays(channel, &ring));
        let is_mix = |channel: &Listening<'_>| channel.ear == Some(Ear::Mixed);
        let mut mixes = (0..channels.len()).filter(|&idx| is_mix(&channels[idx])).peekable();
        let is_missed = ear == Ear::Afar && mixes.peek().is_some() && !mixes.any(holds);
        if is_played || is_missed {
            return None;
        }
    }
    if ear != Ear::Close {
        let is_close = |idx: usize| channels[idx].ear == Some(Ear::Close);
        let microphones = (0..channels.len()).filter(|&idx| channels[idx].is_source());
        let shown = microphones.filter_map(|idx| Some((is_close(idx), heard[idx]?, idx)));
        // A choir's microphone is its own witness.
        let own_db = if channels[source].is_source() { heard[source].unwrap_or(0.0) } else { 0.0 };
        let shown = shown.filter(|&(is_close, db, _)| !is_close || db >= own_db - VOICE_COVERS_DB);
        let most = shown.max_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
        source = most.map_or(source, |(.., idx)| idx);
    }
    let heard_in = (0..channels.len()).filter(|&idx| idx == source || holds(idx)).collect();
    Some(StageRing { ring, source, heard_in })
}

/// Whether a line input holds a frequency while it rings: it is played there.
fn plays(channel: &Listening<'_>, ring: &NearRing) -> bool {
    let is_meanwhile = |start_s: f64, end_s: f64| {
        ring.at.iter().any(|at| at.shared(Span::new(start_s, end_s)).is_some())
    };
    channel.place == Place::Line
        && channel.track.held.iter().any(|line| {
            (line.hz - ring.hz).abs() < SAME_HZ && is_meanwhile(line.start_s, line.end_s)
        })
}

fn is_one(a: &NearRing, b: &NearRing) -> bool {
    let begin_s = |ring: &NearRing| ring.at.first().map_or(f64::MAX, |span| span.start_s);
    let end_s = |ring: &NearRing| ring.at.iter().map(|span| span.end_s).fold(f64::MIN, f64::max);
    let follows = |a: &NearRing, b: &NearRing| begin_s(b) > end_s(a) + TOUCH_S;
    (a.hz - b.hz).abs() < SAME_HZ && !follows(a, b) && !follows(b, a)
}
