//! Chunks of frames whose length the meter names, whatever the blocks that come in.
//!
//! Takes frames in blocks of any length, gives full chunks; one that lies wholly in a block is lent from there, not copied.
//! As a meter only sees full chunks, its result cannot depend on how the recording was cut into blocks.

use super::Frame;

/// Gathers pushed frames into chunks.
#[derive(Clone, Debug)]
pub struct Framer {
    /// The begin of a chunk that a block did not complete.
    held: Vec<Frame>,
    n_wanted: usize,
}

impl Framer {
    /// A framer whose first chunk has `n_wanted` frames.
    ///
    /// # Panics
    ///
    /// If the chunk has no frames.
    pub fn new(n_wanted: usize) -> Self {
        assert!(n_wanted > 0, "a chunk has frames");
        Self { held: Vec::with_capacity(n_wanted), n_wanted }
    }

    /// Adds frames; calls `full` with each chunk that is complete. `full` gives the length of the chunk that follows.
    ///
    /// # Panics
    ///
    /// If `full` asks for a chunk without frames.
    pub fn push(&mut self, frames: &[Frame], mut full: impl FnMut(&[Frame]) -> usize) {
        let mut rest = frames;
        while self.held.len() + rest.len() >= self.n_wanted {
            let (now, later) = rest.split_at(self.n_wanted - self.held.len());
            if self.held.is_empty() {
                self.n_wanted = full(now);
            } else {
                self.held.extend_from_slice(now);
                self.n_wanted = full(&self.held);
                self.held.clear();
            }
            assert!(self.n_wanted > 0, "a chunk has frames");
            rest = later;
        }
        self.held.extend_from_slice(rest);
    }

    /// The frames of the chunk that was begun and not completed.
    pub fn rest(&self) -> &[Frame] {
        &self.held
    }
}
