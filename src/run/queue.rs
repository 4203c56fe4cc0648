//! Work that is taken piece by piece.
//!
//! Takes pieces of work, runs each once. Never keeps any.

use rayon::prelude::*;

/// A piece of work.
pub(super) type Piece<'a> = Box<dyn FnOnce() + Send + 'a>;

/// Runs pieces on all cores, begun in their order: whoever is free takes the next. With long ones first no core waits long for the last.
pub(super) fn run(pieces: Vec<Piece<'_>>) {
    pieces.into_iter().par_bridge().for_each(|piece| piece());
}
