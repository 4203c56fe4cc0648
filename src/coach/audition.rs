//! What to listen to beside a note: a passage of the main mix as it was, and how it might sound next time.
//!
//! Takes a note and the reading, gives a passage and a change. Never opens a recording, and never asks for a change that the note does
//! not suggest.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::advice::Note;
use super::rule::Group;
use crate::reading::{Channel, Reading};
use crate::session::highpass_corner_hz;
use crate::unit::Span;

/// Longest and shortest passage, in seconds: long enough to judge by ear, short enough to hear twice.
const LONGEST_S: f64 = 8.0;
const SHORTEST_S: f64 = 4.0;

/// A closed channel, in dB.
const CLOSED_DB: f64 = -80.0;

/// How far a tone is moved, in dB (common practice: 2 to 4 dB).
const TONE_DB: f64 = -3.0;

/// Tones that a rule is about, in Hz.
const TONES_HZ: [(&str, f64, f64); 4] = [
    ("mud", 224.0, 355.0),
    ("boxy", 355.0, 891.0),
    ("harsh", 1778.0, 5623.0),
    ("ess-hot", 4500.0, 9000.0),
];

/// A change of what a channel gives to the mix.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Change {
    /// Louder or softer, in dB.
    Level(f64),
    /// A high-pass of 12 dB an octave at a corner, in Hz.
    HighPass(f64),
    /// What lies between two frequencies, in Hz, by so many dB.
    Range(f64, f64, f64),
}

/// A passage to listen to.
#[derive(Clone, Debug, PartialEq)]
pub struct Audition {
    /// When.
    pub span: Span,
    /// Id of the channel to be changed, how, and the same in words.
    pub change: Option<(String, Change, String)>,
}

/// A passage of the main mix in a file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Excerpt {
    /// Name of the file, below the folder of the review.
    pub file: String,
    /// When.
    #[serde(flatten)]
    pub span: Span,
    /// What was changed, in words; null for the mix as it was.
    pub change: Option<String>,
}

/// What to listen to beside a note; none where no main mix was recorded or the note has no place in time.
pub fn audition(note: &Note, reading: &Reading) -> Option<Audition> {
    reading.main.as_ref()?;
    let place = note.evidence.first()?;
    let length_s = place.length_s().clamp(SHORTEST_S, LONGEST_S);
    let start_s = place.start_s.min((reading.session.duration_s - length_s).max(0.0));
    let change = note
        .channels
        .first()
        .and_then(|id| reading.channel(id))
        .and_then(|channel| Some((channel, change(note, channel)?)))
        .map(|(channel, change)| (channel.id.clone(), change, words(&channel.name, change)));
    Some(Audition { span: Span::new(start_s, start_s + length_s), change })
}

fn change(note: &Note, channel: &Channel) -> Option<Change> {
    if let Some((_, low_hz, high_hz)) = TONES_HZ.iter().find(|tone| tone.0 == note.rule.id) {
        return Some(Change::Range(*low_hz, *high_hz, TONE_DB));
    }
    match note.rule.id {
        "hpf-missing" => highpass_corner_hz(channel.role, &channel.name).map(Change::HighPass),
        "speech-mic-in-songs" => Some(Change::Level(CLOSED_DB)),
        _ if note.group == Group::Balance => {
            note.measured.first().and_then(|measured| measured.change_db).map(Change::Level)
        }
        _ => None,
    }
}

fn words(name: &str, change: Change) -> String {
    match change {
        Change::Level(db) if db <= CLOSED_DB => format!("{name} closed"),
        Change::Level(db) if db < 0.0 => format!("{name} {:.0} dB down", -db),
        Change::Level(db) => format!("{name} {db:.0} dB up"),
        Change::HighPass(hz) => format!("{name} with a high-pass at {hz:.0} Hz"),
        Change::Range(low_hz, high_hz, db) => {
            format!("{name} {:.0} dB down from {low_hz:.0} to {high_hz:.0} Hz", -db)
        }
    }
}
