//! Borders of equal steps of time, in samples, without drift.
//!
//! Takes a rate and how many steps make a second, gives the length of each step in turn. Border `i` lies at
//! `floor(i * rate / steps per second)`, so steps differ by a sample where the rate does not divide and never run away.

/// Borders of steps.
#[derive(Clone, Copy, Debug)]
pub struct Steps {
    rate_hz: u64,
    per_s: u64,
    n_done: u64,
}

impl Steps {
    /// Steps of `1 / per_s` seconds, from the start.
    ///
    /// # Panics
    ///
    /// If a step would be shorter than a sample.
    pub fn new(rate_hz: u32, per_s: u32) -> Self {
        assert!(0 < per_s && per_s <= rate_hz, "a step of 1/{per_s} s has samples at {rate_hz} Hz");
        Self { rate_hz: u64::from(rate_hz), per_s: u64::from(per_s), n_done: 0 }
    }

    /// First sample of a step.
    pub fn border(&self, step: u64) -> u64 {
        step * self.rate_hz / self.per_s
    }

    /// Samples in the next step, which is thereby taken.
    #[expect(clippy::cast_possible_truncation, reason = "a step is shorter than 2^32 samples")]
    pub fn take(&mut self) -> usize {
        self.n_done += 1;
        (self.border(self.n_done) - self.border(self.n_done - 1)) as usize
    }
}
