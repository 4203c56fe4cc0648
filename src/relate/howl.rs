//! # Howls on the stage
//!
//! Which microphone howls, from what every channel holds of one line.
//!
//! - **Formula:** howls of microphones whose frequencies lie within 2 Hz or 0.2 % and whose spans lie within 0.3 s of each other
//!   are one. No howl: a line input holds the same frequency meanwhile, louder, or 0.2 s earlier. The source is the microphone
//!   where it begins first; of those within 0.15 s of the first, the one where it stands highest over the programme.
//!   Confidence: the highest of a microphone; a second channel halves the doubt; none that hears it where one should, or
//!   neither main mix, monitor mix nor room where one is recorded, takes 0.3 of it; below 0.4 it is none
//! - **Unit:** Hz; s
//! - **Range:** as in the channels
//! - **Source:** common practice: feedback reaches all open microphones, a played note is loudest at its own input
//! - **Window:** whole recording
//! - **No value:** never; nothing howls where no microphone holds one
//! - **Misleads when:** an instrument without a channel of its own plays one pure note

use crate::measure::howl::{Howl, HowlTrack, howls};

/// What a channel is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// An open microphone: it can be the source.
    Microphone,
    /// A line input, or the microphone of a guitar amplifier: what it plays is no feedback.
    Line,
    /// Main, monitor mix or room: it hears a howl.
    Listener,
}

/// Lines of two channels are one within this: in Hz, and as a share.
const SAME_HZ: f64 = 2.0;
const SAME_SHARE: f64 = 0.002;

/// Spans of two channels touch within this, in seconds.
const TOUCH_S: f64 = 0.3;

/// A line input that held the note this much earlier played it, in seconds.
const EARLIER_S: f64 = 0.2;

/// Begins closer than this can't be told apart, in seconds: a window is 0.128 s long.
const SAME_BEGIN_S: f64 = 0.15;

/// What is left of the doubt with a second channel, and of the confidence without one.
const WITH_SECOND: f64 = 0.5;
const ALONE: f64 = 0.7;

/// Confidence below which it is none.
const LEAST: f64 = 0.4;

/// A howl and the channels that hold it.
#[derive(Clone, Debug, PartialEq)]
pub struct StageHowl {
    /// As in the channel where it begins; begin and end are those of all microphones.
    pub howl: Howl,
    /// Number of the microphone that it comes from.
    pub source: usize,
    /// Numbers of all channels that hold it.
    pub heard_in: Vec<usize>,
}

/// The howls of all channels, in order of time.
pub fn stage_howls(channels: &[(Place, &HowlTrack)]) -> Vec<StageHowl> {
    let mut all: Vec<(usize, Howl)> = Vec::new();
    for (idx, (place, track)) in channels.iter().enumerate() {
        if *place == Place::Microphone {
            all.extend(howls(track).into_iter().map(|howl| (idx, howl)));
        }
    }
    all.sort_by(|a, b| a.1.start_s.total_cmp(&b.1.start_s).then(a.0.cmp(&b.0)));
    let mut events: Vec<Vec<(usize, Howl)>> = Vec::new();
    for (idx, howl) in all {
        let is_same = |event: &&mut Vec<(usize, Howl)>| {
            event.iter().any(|(_, other)| is_one_line(howl.hz, other.hz) && touches(&howl, other))
        };
        match events.iter_mut().find(is_same) {
            Some(event) => event.push((idx, howl)),
            None => events.push(vec![(idx, howl)]),
        }
    }
    events.iter().filter_map(|event| stage_howl(event, channels)).collect()
}

fn stage_howl(event: &[(usize, Howl)], channels: &[(Place, &HowlTrack)]) -> Option<StageHowl> {
    let start_s = event.iter().map(|(_, howl)| howl.start_s).fold(f64::MAX, f64::min);
    let end_s = event.iter().map(|(_, howl)| howl.end_s).fold(f64::MIN, f64::max);
    let first = event.iter().filter(|(_, howl)| howl.start_s <= start_s + SAME_BEGIN_S);
    let &(source, howl) =
        first.max_by(|a, b| a.1.over_programme_db.total_cmp(&b.1.over_programme_db))?;
    let most = event.iter().map(|(_, howl)| howl.confidence).fold(0.0, f64::max);
    let peak_dbfs = event.iter().map(|(_, howl)| howl.peak_dbfs).fold(f64::MIN, f64::max);
    let mut howl = Howl { start_s, end_s, ..howl };
    let holds = |track: &HowlTrack, is_played: bool| {
        track.held.iter().any(|line| {
            let is_meanwhile = line.start_s < end_s + TOUCH_S && line.end_s > start_s - TOUCH_S;
            let is_own = line.peak_dbfs > peak_dbfs || line.start_s < start_s - EARLIER_S;
            is_one_line(line.hz, howl.hz) && is_meanwhile && (is_own || !is_played)
        })
    };
    let is_line = |place: Place| place == Place::Line;
    if channels.iter().any(|(place, track)| is_line(*place) && holds(track, true)) {
        return None;
    }
    let numbered = channels.iter().enumerate();
    let heard_in: Vec<usize> = numbered
        .filter(|(idx, (place, track))| *idx == source || (!is_line(*place) && holds(track, false)))
        .map(|(idx, _)| idx)
        .collect();
    let is_listener = |place: Place| place == Place::Listener;
    let n_others = channels.iter().filter(|(place, _)| !is_line(*place)).count();
    // Feedback comes out of a loudspeaker; a note that microphones alone hold was played.
    let is_sent = !channels.iter().any(|(place, _)| is_listener(*place))
        || heard_in.iter().any(|&idx| is_listener(channels[idx].0));
    howl.confidence = match heard_in.len() {
        1 if n_others == 1 => most,
        2.. if is_sent => 1.0 - WITH_SECOND * (1.0 - most),
        _ => ALONE * most,
    };
    if howl.confidence < LEAST {
        return None;
    }
    Some(StageHowl { howl, source, heard_in })
}

fn is_one_line(a_hz: f64, b_hz: f64) -> bool {
    (a_hz - b_hz).abs() < SAME_HZ.max(SAME_SHARE * b_hz)
}

fn touches(a: &Howl, b: &Howl) -> bool {
    a.start_s < b.end_s + TOUCH_S && b.start_s < a.end_s + TOUCH_S
}
