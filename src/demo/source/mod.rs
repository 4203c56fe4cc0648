//! The sound sources of the demo: drums, strings, keys, winds, voices and the hall's own noises.
//!
//! To add an instrument: a variant of [`Instrument`], a renderer in the file of its family, a line in [`render`] and a
//! typical [`phrase`].

mod canvas;
mod cymbals;
mod drums;
mod filter;
mod hall;
mod instrument;
mod keys;
mod line;
mod partials;
mod phrase;
mod plucked;
mod saw;
mod singing;
mod speech;
mod strike;
mod syllable;
mod tract;

pub use instrument::{Instrument, Note, render, render_sized};
pub use phrase::phrase;
