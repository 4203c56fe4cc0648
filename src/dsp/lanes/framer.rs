//! Chunks of frames whose length the meter names, whatever the blocks that come in.
//!
//! Takes groups of any length, gives full chunks. As a meter only sees full chunks, its result cannot depend on how the
//! recording was cut into blocks.

use super::{Frame, Isa, LANES, pack};
use crate::dsp::Group;

/// Gathers pushed samples into chunks.
#[derive(Clone, Debug)]
pub struct Framer {
    isa: Isa,
    frames: Vec<Frame>,
    n_filled: usize,
    n_wanted: usize,
}

impl Framer {
    /// A framer whose first chunk has `n_wanted` frames.
    ///
    /// # Panics
    ///
    /// If the chunk has no frames.
    pub fn new(isa: Isa, n_wanted: usize) -> Self {
        assert!(n_wanted > 0, "a chunk has frames");
        Self { isa, frames: vec![[0.0; LANES]; n_wanted], n_filled: 0, n_wanted }
    }

    /// Adds samples; calls `full` with each chunk that is complete. `full` gives the length of the chunk that follows.
    ///
    /// # Panics
    ///
    /// If `full` asks for a chunk without frames.
    pub fn push(&mut self, group: Group<'_>, mut full: impl FnMut(&[Frame]) -> usize) {
        let mut from = 0;
        while from < group.len() {
            let n_new = (self.n_wanted - self.n_filled).min(group.len() - from);
            let room = &mut self.frames[self.n_filled..self.n_filled + n_new];
            pack(self.isa, group.planes(), from, room);
            self.n_filled += n_new;
            from += n_new;
            if self.n_filled == self.n_wanted {
                self.n_wanted = full(&self.frames[..self.n_filled]);
                assert!(self.n_wanted > 0, "a chunk has frames");
                self.n_filled = 0;
                if self.frames.len() < self.n_wanted {
                    self.frames.resize(self.n_wanted, [0.0; LANES]);
                }
            }
        }
    }

    /// The frames of the chunk that was begun and not completed.
    pub fn rest(&self) -> &[Frame] {
        &self.frames[..self.n_filled]
    }
}
