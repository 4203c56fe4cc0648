//! How well compressors and gates are read from a channel's raw and processed tap: cases drawn by seed, scored against what was set.
//!
//! The compressor, the gate and the desk around them are written here and know nothing of the program's models. Never used to set a
//! threshold.

pub(crate) mod gated;
pub(crate) mod press;
pub(crate) mod squeezed;
pub(crate) mod strip;
pub(crate) mod table;
