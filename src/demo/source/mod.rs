//! The sound sources of the demo: drums, strings, keys, winds, voices and the hall's own noises.
//!
//! To add an instrument: a variant of [`Instrument`], a renderer in the file of its family, a line in [`render`] and a
//! typical [`phrase`].

mod instrument;
mod phrase;

pub use instrument::{Instrument, Note, render};
pub use phrase::phrase;
