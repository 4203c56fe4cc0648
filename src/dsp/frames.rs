//! Cuts a stream of samples into frames of fixed length, wherever the blocks are cut.
//!
//! Takes blocks of any length, gives frames that each begin with samples already seen (the history). A frame that lies
//! wholly in a block is lent from there, not copied. Never gives different frames for the same samples.

/// Cuts a stream into frames that stand on absolute sample numbers: samples of one channel, or of eight side by side.
#[derive(Clone, Debug)]
pub struct Frames<T = f32> {
    history: usize,
    hop: usize,
    /// The begin of the next frame, as far as it came.
    held: Vec<T>,
    next: usize,
}

impl<T: Copy + Default> Frames<T> {
    /// Frames of `hop` new samples behind `history` old ones. Before the first sample lies silence.
    ///
    /// # Panics
    ///
    /// If the hop is 0.
    pub fn new(history: usize, hop: usize) -> Self {
        assert!(hop > 0, "a frame brings at least one new sample");
        Self { history, hop, held: vec![T::default(); history], next: 0 }
    }

    /// Samples taken so far that no frame has held as new.
    pub fn n_waiting(&self) -> usize {
        self.held.len() - self.history
    }

    /// Takes samples; calls `each` for every frame that is full, with the number of its first new sample and the
    /// frame: `history` old samples, then `hop` new ones.
    pub fn push(&mut self, samples: &[T], mut each: impl FnMut(usize, &[T])) {
        let full = self.history + self.hop;
        let n_held = self.held.len();
        // Where the next frame begins, counted from the first sample held.
        let mut begin = 0;
        while begin < n_held && n_held + samples.len() >= begin + full {
            let n_have = self.held.len() - n_held;
            self.held.extend_from_slice(&samples[n_have..begin + full - n_held]);
            each(self.next, &self.held[begin..]);
            self.next += self.hop;
            begin += self.hop;
        }
        if begin < n_held {
            let n_have = self.held.len() - n_held;
            self.held.extend_from_slice(&samples[n_have..]);
            self.held.drain(..begin);
            return;
        }
        let mut rest = &samples[begin - n_held..];
        while rest.len() >= full {
            each(self.next, &rest[..full]);
            self.next += self.hop;
            rest = &rest[self.hop..];
        }
        self.held.clear();
        self.held.extend_from_slice(rest);
    }

    /// Ends the stream: calls `each` once more if samples wait, with a frame that has fewer new samples.
    pub fn finish(self, mut each: impl FnMut(usize, &[T])) {
        if self.n_waiting() > 0 {
            each(self.next, &self.held);
        }
    }
}
