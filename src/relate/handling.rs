//! # Handling of a channel
//!
//! How a channel's switch and fader follow its source: opened late, open while the source rests, closed while it sounds, a fader that
//! goes up and down.
//!
//! - **Formula:** entry: the source begins after a rest of 10 s and sounds for 1.5 s of the next 3 s; late by the time from then to the
//!   opening of the channel, if it opens within 15 s while the source sounds; idle: open, and not within 0.2 s of its source; left out:
//!   closed for 1 s or more while the source sounds; turns: changes of direction of 2 dB or more
//! - **Unit:** s; turns a minute
//! - **Range:** openings are known to about 0.03 s
//! - **Source:** common practice
//! - **Window:** the session, or its songs
//! - **No value:** the channel never reaches the mix
//! - **Misleads when:** the source makes a sound that is not meant for the audience, or spill passes for it

use crate::unit::Span;
use crate::unit::spans::{both, shared_s, total_s, widened, without};

/// A rest after which a source enters, in seconds.
const REST_S: f64 = 10.0;

/// How much of the next stretch a source sounds that enters, in seconds.
const SOUNDS_S: f64 = 1.5;
const NEXT_S: f64 = 3.0;

/// A channel that opens later than this was not opened for this entry, in seconds.
const LATEST_S: f64 = 15.0;

/// Openings up to this before or after the begin are in time as far as it can be told, in seconds.
const EXACT_S: f64 = 0.05;

/// A shorter sound that stands alone may be anything: a knock, a clap, a breath. It stands apart from others by more than this, in
/// seconds.
const KNOCK_S: f64 = 0.5;
const ALONE_S: f64 = 0.5;

/// A source lingers that long, in seconds.
const LINGERS_S: f64 = 0.2;

/// A shorter stretch is not left out, in seconds: it may be an end that fades.
const LEFT_OUT_S: f64 = 1.0;

/// Height of a turn, in dB.
const TURN_DB: f32 = 2.0;

/// A source begins after a rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Entrance {
    /// When, in seconds.
    pub at_s: f64,
    /// How much later its channel is open; 0 if it was open before.
    pub late_s: f64,
}

/// Entries of a source whose channel was open then, or soon after.
pub fn entrances(sounds: &[Span], on: &[Span]) -> Vec<Entrance> {
    let sounds = without_knocks(sounds);
    let mut entrances = Vec::new();
    let mut last_end_s = f64::NEG_INFINITY;
    for (idx, span) in sounds.iter().enumerate() {
        let rest_s = span.start_s - last_end_s;
        last_end_s = last_end_s.max(span.end_s);
        let next = Span::new(span.start_s, span.start_s + NEXT_S);
        if rest_s < REST_S || shared_s(&sounds[idx..], next) < SOUNDS_S {
            continue;
        }
        // The passage goes on until the next rest of that length.
        let mut passage_end_s = span.end_s;
        for later in &sounds[idx..] {
            if later.start_s - passage_end_s >= REST_S {
                break;
            }
            passage_end_s = passage_end_s.max(later.end_s);
        }
        let opens_s = on
            .iter()
            .find(|on| on.end_s > span.start_s + EXACT_S)
            .map(|on| (on.start_s - span.start_s).max(0.0));
        let soon = LATEST_S.min(passage_end_s - span.start_s);
        if let Some(late_s) = opens_s.filter(|&late_s| late_s < soon) {
            let late_s = if late_s < EXACT_S { 0.0 } else { late_s };
            entrances.push(Entrance { at_s: span.start_s, late_s });
        }
    }
    entrances
}

/// Stretches without short sounds that stand alone.
fn without_knocks(sounds: &[Span]) -> Vec<Span> {
    let stands_alone = |idx: usize| {
        let before_s = idx
            .checked_sub(1)
            .map_or(f64::INFINITY, |before| sounds[idx].start_s - sounds[before].end_s);
        let after_s =
            sounds.get(idx + 1).map_or(f64::INFINITY, |after| after.start_s - sounds[idx].end_s);
        before_s.min(after_s) > ALONE_S
    };
    let is_knock = |idx: usize| sounds[idx].length_s() < KNOCK_S && stands_alone(idx);
    (0..sounds.len()).filter(|&idx| !is_knock(idx)).map(|idx| sounds[idx]).collect()
}

/// When a channel is open while its source rests.
pub fn idle(sounds: &[Span], on: &[Span]) -> Vec<Span> {
    without(on, &widened(sounds, LINGERS_S))
}

/// When a channel is closed while its source sounds, within stretches.
pub fn left_out(sounds: &[Span], on: &[Span], within: &[Span]) -> Vec<Span> {
    let mut closed = without(&both(sounds, within), on);
    // Breaths are no reason to begin anew.
    closed = widened(&closed, LINGERS_S);
    closed = without(&both(&closed, within), on);
    closed.retain(|span| span.length_s() >= LEFT_OUT_S);
    closed
}

/// Share of the stretches in which something is, 0 to 100.
pub fn share_percent(of: &[Span], within: &[Span]) -> f64 {
    let all_s = total_s(within);
    if all_s > 0.0 { 100.0 * total_s(&both(of, within)) / all_s } else { 0.0 }
}

/// How often a fader turns by 2 dB or more. `fader_db` is its course; gaps are left out.
pub fn n_turns(fader_db: impl Iterator<Item = f32>) -> usize {
    let (mut low, mut high) = (f32::INFINITY, f32::NEG_INFINITY);
    let (mut is_rising, mut n) = (None, 0);
    for db in fader_db {
        (low, high) = (low.min(db), high.max(db));
        let turned = match is_rising {
            Some(true) => (high - db >= TURN_DB).then_some(false),
            Some(false) => (db - low >= TURN_DB).then_some(true),
            None if high - db >= TURN_DB => Some(false),
            None if db - low >= TURN_DB => Some(true),
            None => None,
        };
        if let Some(rises) = turned {
            n += usize::from(is_rising.is_some());
            is_rising = Some(rises);
            (low, high) = (db, db);
        }
    }
    n
}
