//! Pictures of what a note says, each drawn for its purpose.
//!
//! Takes a note and the reading, gives SVG for an HTML page with a sentence for those who don't see it. Never draws what was not
//! measured, and never tells two things apart by colour alone. A new picture is a file here and a line in `picture`.

mod change;
mod evening;
mod fall;
mod gain;
mod lanes;
mod matrix;
mod nights;
mod plot;
mod pressed;
mod rungs;
mod scale;
mod tones;
mod voice;

pub(super) use change::change;
pub(super) use evening::evening;
pub(super) use lanes::{hatch, stage};
pub(super) use matrix::matrix;
pub(super) use nights::{MOST_NIGHTS, nights};
pub(super) use scale::balance;

use maud::Markup;

use crate::coach::{Group, Note};
use crate::reading::Reading;

/// A picture with its words.
pub(super) struct Picture {
    /// The drawing.
    pub(super) svg: Markup,
    /// What is to be seen, one or two sentences.
    pub(super) caption: String,
}

/// The picture beside a note.
pub(super) fn picture(note: &Note, reading: &Reading) -> Option<Picture> {
    let special = match note.rule.id {
        "voice-buried" | "voice-masked" | "lead-taken-over" => voice::voice(note, reading),
        "cue-late" | "left-out" => lanes::closed(note, reading),
        "open-mics" | "speech-mic-in-songs" => lanes::idle(note, reading),
        "fader-hunting" | "solo-missed" | "solo-too-far" => gain::gain(note, reading),
        "comp-heavy" | "comp-pump" => pressed::pressed(note, reading),
        "feedback-howl" | "ring-near" => tones::tones(note, reading),
        "room-long" => fall::fall(reading),
        "hpf-missing" | "mic-far" | "close-boom" => rungs::rungs(note, reading),
        _ if note.group == Group::Tone => rungs::rungs(note, reading),
        _ => None,
    };
    special.or_else(|| scale::scale(note, reading))
}
