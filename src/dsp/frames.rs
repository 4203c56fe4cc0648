//! Cuts a stream of samples into frames of fixed length, wherever the blocks are cut.
//!
//! Takes blocks of any length, gives frames that each begin with samples already seen (the history). Never gives
//! different frames for the same samples.

/// Cuts one channel's stream into frames that stand on absolute sample numbers.
#[derive(Clone, Debug)]
pub struct Frames {
    history: usize,
    hop: usize,
    buffer: Vec<f32>,
    next: usize,
}

impl Frames {
    /// Frames of `hop` new samples behind `history` old ones. Before the first sample lies silence.
    ///
    /// # Panics
    ///
    /// If the hop is 0.
    pub fn new(history: usize, hop: usize) -> Self {
        assert!(hop > 0, "a frame brings at least one new sample");
        let mut buffer = Vec::with_capacity(history + hop);
        buffer.resize(history, 0.0);
        Self { history, hop, buffer, next: 0 }
    }

    /// Samples taken so far that no frame has held as new.
    pub fn n_waiting(&self) -> usize {
        self.buffer.len() - self.history
    }

    /// Takes samples; calls `each` for every frame that is full, with the number of its first new sample and the
    /// frame: `history` old samples, then `hop` new ones.
    pub fn push(&mut self, samples: &[f32], mut each: impl FnMut(usize, &[f32])) {
        let full = self.history + self.hop;
        let mut rest = samples;
        while !rest.is_empty() {
            let (now, later) = rest.split_at(rest.len().min(full - self.buffer.len()));
            self.buffer.extend_from_slice(now);
            rest = later;
            if self.buffer.len() == full {
                each(self.next, &self.buffer);
                self.next += self.hop;
                self.buffer.copy_within(self.hop.., 0);
                self.buffer.truncate(self.history);
            }
        }
    }

    /// Ends the stream: calls `each` once more if samples wait, with a frame that has fewer new samples.
    pub fn finish(self, mut each: impl FnMut(usize, &[f32])) {
        if self.n_waiting() > 0 {
            each(self.next, &self.buffer);
        }
    }
}
