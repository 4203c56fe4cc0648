//! The operator's note beside the recordings: `session.toml`.
//!
//! Takes the file's text, gives [`SessionNote`]. Unknown keys are errors, so that a misspelt one is never lost.
//! A new key is a field in `keys`, a line in `docs/session.example.toml`, and a check if not every value is lawful.

mod check;
mod keys;
mod moment;
mod near;
mod parse;

pub use keys::{
    Calibration, ChannelNote, Cue, Hall, HallSweep, Kind, LevelControl, Limit, MainBus, Pattern,
    SessionNote, Song, Stage, Style, Target, Wedge,
};
pub use parse::{NOTE_NAME, parse, read};
