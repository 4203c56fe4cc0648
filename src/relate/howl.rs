//! # Howls on the stage
//!
//! Which microphone howls, from what every channel holds of one line.
//!
//! - **Formula:** howls of microphones whose frequencies lie within 2 Hz or 0.2 % and whose spans lie within 0.3 s of each other
//!   are one. No howl: a line input holds the same frequency meanwhile, louder, or 0.2 s earlier. The source is the microphone
//!   where it begins first; of those within 0.15 s of the first, the one where it stands highest over the programme.
//!   Confidence: the highest of a microphone; a second channel halves the doubt; none that hears it where one should, or
//!   neither main mix, monitor mix nor room where one is recorded, takes 0.3 of it; below 0.4 it is none. What a mix or the room
//!   alone takes for a howl is told of that one, without a microphone and with 0.3 less, where no microphone holds its frequency
//!   meanwhile: of one that is recorded it would be there
//! - **Unit:** Hz; s
//! - **Range:** as in the channels
//! - **Source:** common practice: feedback reaches all open microphones, a played note is loudest at its own input
//! - **Window:** whole recording
//! - **No value:** never; nothing howls where no microphone holds one
//! - **Misleads when:** an instrument, or playback, without a channel of its own plays one pure note

use crate::measure::howl::{Held, Howl, HowlTrack, howls};

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
    /// Number of the microphone that it comes from; of a mix or the room where no microphone holds it.
    pub source: usize,
    /// Numbers of all channels that hold it.
    pub heard_in: Vec<usize>,
}

/// The howls of all channels, in order of time.
pub fn stage_howls(channels: &[(Place, &HowlTrack)]) -> Vec<StageHowl> {
    let of = |wanted: Place| {
        let numbered = channels.iter().enumerate().filter(move |(_, (place, _))| *place == wanted);
        let all = numbered
            .flat_map(|(idx, (_, track))| howls(track).into_iter().map(move |howl| (idx, howl)));
        events(all.collect())
    };
    let microphones = of(Place::Microphone);
    let listeners = of(Place::Listener);
    let is_unseen = |event: &&Event| {
        let (start_s, end_s) = span(event);
        event.iter().all(|(_, howl)| {
            !holds_any(channels, Place::Microphone, howl.hz, (start_s, end_s), |_| true)
        })
    };
    let alone = listeners.iter().filter(is_unseen);
    let mut told: Vec<StageHowl> =
        microphones.iter().chain(alone).filter_map(|event| stage_howl(event, channels)).collect();
    told.sort_by(|a, b| a.howl.start_s.total_cmp(&b.howl.start_s));
    told
}

/// What several channels take for one howl, each with its number.
type Event = Vec<(usize, Howl)>;

fn events(mut all: Vec<(usize, Howl)>) -> Vec<Event> {
    all.sort_by(|a, b| a.1.start_s.total_cmp(&b.1.start_s).then(a.0.cmp(&b.0)));
    let mut events: Vec<Event> = Vec::new();
    for (idx, howl) in all {
        let is_same = |event: &&mut Event| {
            event.iter().any(|(_, other)| is_one_line(howl.hz, other.hz) && touches(&howl, other))
        };
        match events.iter_mut().find(is_same) {
            Some(event) => event.push((idx, howl)),
            None => events.push(vec![(idx, howl)]),
        }
    }
    events
}

fn span(event: &Event) -> (f64, f64) {
    let start_s = event.iter().map(|(_, howl)| howl.start_s).fold(f64::MAX, f64::min);
    let end_s = event.iter().map(|(_, howl)| howl.end_s).fold(f64::MIN, f64::max);
    (start_s, end_s)
}

fn stage_howl(event: &Event, channels: &[(Place, &HowlTrack)]) -> Option<StageHowl> {
    let (start_s, end_s) = span(event);
    let first = event.iter().filter(|(_, howl)| howl.start_s <= start_s + SAME_BEGIN_S);
    let &(source, howl) =
        first.max_by(|a, b| a.1.over_programme_db.total_cmp(&b.1.over_programme_db))?;
    let most = event.iter().map(|(_, howl)| howl.confidence).fold(0.0, f64::max);
    let peak_dbfs = event.iter().map(|(_, howl)| howl.peak_dbfs).fold(f64::MIN, f64::max);
    let mut howl = Howl { start_s, end_s, ..howl };
    let when = (start_s, end_s);
    let is_played = |line: &Held| line.peak_dbfs > peak_dbfs || line.start_s < start_s - EARLIER_S;
    if holds_any(channels, Place::Line, howl.hz, when, is_played) {
        return None;
    }
    let is_heard = |idx: usize| {
        let (place, track) = channels[idx];
        idx == source || (place != Place::Line && holds(track, howl.hz, when, |_| true))
    };
    let heard_in: Vec<usize> = (0..channels.len()).filter(|&idx| is_heard(idx)).collect();
    howl.confidence = confidence(most, source, &heard_in, channels);
    if howl.confidence < LEAST {
        return None;
    }
    Some(StageHowl { howl, source, heard_in })
}

/// How sure a howl is that the surest of its channels takes for one with a confidence of `most`.
fn confidence(
    most: f64,
    source: usize,
    heard_in: &[usize],
    channels: &[(Place, &HowlTrack)],
) -> f64 {
    let n_others = channels.iter().filter(|(place, _)| *place != Place::Line).count();
    let is_listener = |idx: usize| channels[idx].0 == Place::Listener;
    // Feedback comes out of a loudspeaker; a note that microphones alone hold was played.
    let is_sent =
        !(0..channels.len()).any(is_listener) || heard_in.iter().any(|&idx| is_listener(idx));
    match heard_in.len() {
        // A mix and the room hear alike what an unrecorded instrument plays.
        _ if is_listener(source) => ALONE * most,
        1 if n_others == 1 => most,
        2.. if is_sent => 1.0 - WITH_SECOND * (1.0 - most),
        _ => ALONE * most,
    }
}

/// Whether a channel of that place holds a line, and one that is as asked.
fn holds_any(
    channels: &[(Place, &HowlTrack)],
    wanted: Place,
    hz: f64,
    when: (f64, f64),
    is_asked: impl Fn(&Held) -> bool,
) -> bool {
    let mut of_place = channels.iter().filter(|(place, _)| *place == wanted);
    of_place.any(|(_, track)| holds(track, hz, when, &is_asked))
}

fn holds(
    track: &HowlTrack,
    hz: f64,
    (start_s, end_s): (f64, f64),
    is_asked: impl Fn(&Held) -> bool,
) -> bool {
    track.held.iter().any(|line| {
        let is_meanwhile = line.start_s < end_s + TOUCH_S && line.end_s > start_s - TOUCH_S;
        is_one_line(line.hz, hz) && is_meanwhile && is_asked(line)
    })
}

fn is_one_line(a_hz: f64, b_hz: f64) -> bool {
    (a_hz - b_hz).abs() < SAME_HZ.max(SAME_SHARE * b_hz)
}

fn touches(a: &Howl, b: &Howl) -> bool {
    a.start_s < b.end_s + TOUCH_S && b.start_s < a.end_s + TOUCH_S
}
