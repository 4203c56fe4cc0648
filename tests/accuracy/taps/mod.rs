//! How well compressors and gates are read from a channel's raw and processed tap, and how well thresholds to start from suit: cases drawn
//! by seed, scored against what was set.
//!
//! The compressor, the gate and the desk around them are written here and know nothing of the program's models. Never used to set a
//! threshold.

#[expect(dead_code, reason = "when a player sounds is for planted faults")]
#[path = "../../support/band.rs"]
mod band;
pub(crate) mod gated;
pub(crate) mod press;
pub(crate) mod squeezed;
pub(crate) mod starts;
pub(crate) mod strip;
pub(crate) mod table;
#[expect(dead_code, reason = "findings are for planted faults")]
#[path = "../faults/told.rs"]
mod told;
#[path = "../../support/wave.rs"]
mod wave;
