//! What each instrument typically plays.
//!
//! Takes an instrument, gives notes. Never a tune.

use crate::demo::source::{Instrument, Note};

/// Typical material of an instrument, `seconds` long: what it plays in a song, with the scatter of a player.
pub fn phrase(instrument: Instrument, seconds: f64, seed: u64) -> Vec<Note> {
    let _ = (instrument, seconds, seed);
    Vec::new()
}
