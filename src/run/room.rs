//! What is measured of a room microphone beside what is measured of all: falls, sound levels, what rings behind a clap, and what a
//! sweep tells.

use super::calibrate::calibration;
use super::stream::Recorder;
use super::{sample_at, samples};
use crate::audio::TrustHeader;
use crate::dsp::Group;
use crate::measure::Trace;
use crate::measure::burst::bursts;
use crate::measure::decay::{self, Decay};
use crate::measure::falls::{Falls, FallsMeter};
use crate::measure::sound_level::{Calibration, SoundLevel, SoundLevelMeter};
use crate::measure::sweep::{self, Sweep};
use crate::reading::{DecayFrom, Room};
use crate::session::note::HallSweep;
use crate::session::{Role, Session, SessionChannel};
use crate::unit::{Span, Unmeasured};

/// What a room microphone says.
pub(super) struct RoomSound {
    /// Session channel.
    pub(super) channel: usize,
    /// Decay from sudden stops, by octaves.
    pub(super) falls: Vec<Falls>,
    /// Sound level, if it is calibrated.
    pub(super) level: Option<Result<SoundLevel, Unmeasured>>,
}

/// Meters of one room microphone.
pub(super) struct RoomMeters {
    channel: usize,
    falls: FallsMeter,
    level: Option<SoundLevelMeter>,
}

impl RoomMeters {
    pub(super) fn new(channel: usize, rate_hz: u32, calibration: Option<Calibration>) -> Self {
        Self {
            channel,
            falls: FallsMeter::new(rate_hz, 1),
            level: calibration.map(|one| SoundLevelMeter::new(rate_hz, &[one])),
        }
    }

    /// Takes the next samples of all channels.
    pub(super) fn push(&mut self, planes: &[&[f32]], rate_hz: u32) {
        let own = [planes[self.channel]];
        self.falls.push(Group::new(&own, rate_hz));
        if let Some(level) = &mut self.level {
            level.push(Group::new(&own, rate_hz));
        }
    }

    pub(super) fn finish(self) -> RoomSound {
        let level = self.level.map(|meter| meter.finish().remove(0));
        let falls = self.falls.finish().into_iter().map(|mut octave| octave.remove(0)).collect();
        RoomSound { channel: self.channel, falls, level }
    }
}

/// Meters of the microphones in the room; what speaks against a calibration becomes a warning.
pub(super) fn meters(
    session: &Session,
    channels: &[SessionChannel],
    trust: TrustHeader,
    warnings: &mut Vec<String>,
) -> Vec<RoomMeters> {
    let rooms = channels.iter().enumerate().filter(|(_, channel)| channel.role == Role::Room);
    let mut meters = Vec::new();
    for (idx, channel) in rooms {
        let calibration = match calibration(session, channel, trust) {
            Some(Err(why)) => {
                warnings.push(why);
                None
            }
            stated => stated.and_then(Result::ok),
        };
        meters.push(RoomMeters::new(idx, session.rate_hz, calibration));
    }
    meters
}

/// Decay behind the best clap, or from a sweep.
pub(super) struct Clap {
    /// Which of the two.
    pub(super) from: DecayFrom,
    /// When.
    pub(super) span: Span,
    /// By octaves.
    pub(super) octaves: Vec<Decay>,
    /// How 500 Hz and 1 kHz fall together, in steps of [`Room::FALL_STEP_S`] from the highest point.
    pub(super) fall_db: Vec<f64>,
}

/// How far a fall is followed, in seconds.
const FALL_S: f64 = 2.5;

/// What is read before and behind a burst, in seconds.
const BEFORE_S: f64 = 0.2;
const BEHIND_S: f64 = 4.0;

/// A source is known to begin within this, in seconds.
const MARGIN_S: f64 = 0.2;

/// Bursts that are looked at: the loudest.
const MOST: usize = 6;

/// A source that sounds longer than this around a burst sounds on, in seconds: what hears a clap falls silent with the hall.
const SOUNDS_ON_S: f64 = 1.0;

/// The clap that stands furthest out of the noise, with nothing else sounding; `None` without one.
///
/// `sounding` says when each input sounds.
pub(super) fn clap(
    room: usize,
    levels: &Trace,
    sounding: &[&[Span]],
    rate_hz: u32,
    reopen: &dyn Fn() -> Option<Vec<Recorder>>,
) -> Option<Clap> {
    let is_alone = |burst: &Span| {
        let around = Span::new(burst.start_s - BEFORE_S, burst.end_s);
        let sounds_on =
            |span: &&Span| span.shared(around).is_some() && span.length_s() > SOUNDS_ON_S;
        !sounding.iter().any(|spans| spans.iter().any(|span| sounds_on(&span)))
    };
    let mut found: Vec<Span> = bursts(levels).into_iter().filter(is_alone).collect();
    let top_db = |burst: &Span| levels.level_db(step(burst.start_s, levels.step_s()));
    found.sort_by(|a, b| top_db(b).total_cmp(&top_db(a)));
    found.truncate(MOST);
    if found.is_empty() {
        return None;
    }
    let mut again = Again::of(room, rate_hz, reopen)?;
    let mut best: Option<(f64, Clap)> = None;
    for span in found {
        // What sounds next is no part of the decay.
        let starts = sounding.iter().flat_map(|spans| spans.iter().map(|one| one.start_s));
        let next_s = starts.filter(|start_s| *start_s > span.end_s).fold(f64::MAX, f64::min);
        let behind_s = (next_s - MARGIN_S - span.start_s).min(BEHIND_S);
        let samples = again.read(span.start_s - BEFORE_S, BEFORE_S + behind_s);
        let octaves = decay::after_impulse(&samples, rate_hz);
        let mid: Vec<&Decay> = octaves.iter().skip(MIDDLE).take(2).collect();
        let range_db = mid.iter().map(|octave| octave.range_db).fold(f64::MAX, f64::min);
        let is_straight = mid.iter().all(|octave| octave.widest_s().is_ok());
        if is_straight && best.as_ref().is_none_or(|(most_db, _)| range_db > *most_db) {
            let fall_db = decay::fall_db(&samples, rate_hz, Room::FALL_STEP_S, FALL_S);
            best = Some((range_db, Clap { from: DecayFrom::Burst, span, octaves, fall_db }));
        }
    }
    best.map(|(_, clap)| clap)
}

/// A sweep may begin this much earlier or later than stated, in seconds.
const NEAR_S: f64 = 1.0;

/// What the hall makes of a sweep that was played into it; `None` if no decay of the middle octaves can be had from it.
pub(super) fn swept(
    room: usize,
    stated: &HallSweep,
    rate_hz: u32,
    reopen: &dyn Fn() -> Option<Vec<Recorder>>,
) -> Option<Clap> {
    let HallSweep { start_s, length_s, from_hz, to_hz } = *stated;
    let sweep = Sweep { from_hz, to_hz, length_s };
    let from_s = (start_s - NEAR_S).max(0.0);
    let mut again = Again::of(room, rate_hz, reopen)?;
    let heard = again.read(from_s, start_s - from_s + length_s + NEAR_S + BEHIND_S);
    let response = sweep::response(&heard, rate_hz, &sweep).ok()?;
    let octaves = decay::after_sweep(&response, rate_hz, &sweep);
    let is_heard = octaves.iter().skip(MIDDLE).take(2).all(|octave| octave.widest_s().is_ok());
    is_heard.then(|| Clap {
        from: DecayFrom::Sweep,
        span: Span::new(start_s, start_s + length_s),
        octaves,
        fall_db: decay::fall_db(&response, rate_hz, Room::FALL_STEP_S, FALL_S),
    })
}

/// A second look at the recording of a room microphone.
struct Again {
    recorders: Vec<Recorder>,
    recorder: usize,
    plane: usize,
    rate_hz: u32,
}

impl Again {
    fn of(room: usize, rate_hz: u32, reopen: &dyn Fn() -> Option<Vec<Recorder>>) -> Option<Self> {
        let recorders = reopen()?;
        let recorder = recorders.iter().position(|one| one.channels.contains(&Some(room)))?;
        let planes = &recorders[recorder].channels;
        let plane = planes.iter().position(|channel| *channel == Some(room))?;
        Some(Self { recorders, recorder, plane, rate_hz })
    }

    fn read(&mut self, from_s: f64, length_s: f64) -> Vec<f32> {
        let feed = &mut self.recorders[self.recorder].feed;
        feed.seek(sample_at(from_s.max(0.0), self.rate_hz), self.rate_hz);
        feed.next(samples(length_s, self.rate_hz)).planes.swap_remove(self.plane)
    }
}

/// Place of 500 Hz among the octaves.
pub(super) const MIDDLE: usize = 3;

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a time in the session is not negative"
)]
fn step(at_s: f64, step_s: f64) -> usize {
    (at_s.max(0.0) / step_s).round() as usize
}
