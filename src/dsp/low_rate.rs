//! About 24 kHz of eight channels, for what looks at nothing above 8 kHz.
//!
//! Takes frames in blocks of any length, gives those at the low rate that are complete. They come less than a thousandth of a second
//! late: what looks at windows of some tenths of a second need not know.

use super::half_band::HalfBand;
use super::lanes::{Frame, Isa, LANES};

/// Lowest rate that a halving leads to, in Hz: half of 44.1 kHz.
const LOWEST_HZ: u32 = 22_050;

/// Brings eight channels to a low rate.
#[derive(Clone, Debug)]
pub struct LowRate {
    rate_hz: u32,
    halvings: Vec<Halving>,
}

/// One halving in a row.
#[derive(Clone, Debug)]
struct Halving {
    filter: HalfBand,
    /// The first frame of two whose second has not come.
    waiting: Option<Frame>,
    halved: Vec<Frame>,
}

impl LowRate {
    /// From `rate_hz` down. A rate below 44.1 kHz, or one that can't be halved, stays.
    pub fn new(isa: Isa, rate_hz: u32) -> Self {
        let mut low = Self { rate_hz, halvings: Vec::new() };
        while low.rate_hz.is_multiple_of(2) && low.rate_hz / 2 >= LOWEST_HZ {
            low.rate_hz /= 2;
            low.halvings.push(Halving {
                filter: HalfBand::new(isa),
                waiting: None,
                halved: Vec::new(),
            });
        }
        low
    }

    /// The low rate, in Hz.
    pub fn rate_hz(&self) -> u32 {
        self.rate_hz
    }

    /// Takes frames, gives what they complete.
    pub fn take<'a>(&'a mut self, frames: &'a [Frame]) -> &'a [Frame] {
        let mut low = frames;
        for halving in &mut self.halvings {
            low = halving.take(low);
        }
        low
    }
}

impl Halving {
    fn take(&mut self, frames: &[Frame]) -> &[Frame] {
        self.halved.clear();
        let mut rest = frames;
        if let (Some(first), Some((second, later))) = (self.waiting, frames.split_first()) {
            self.waiting = None;
            rest = later;
            self.halve(&[first, *second]);
        }
        let (twos, odd) = rest.split_at(rest.len() / 2 * 2);
        self.halve(twos);
        self.waiting = odd.first().copied().or(self.waiting);
        &self.halved
    }

    fn halve(&mut self, twos: &[Frame]) {
        let n_done = self.halved.len();
        self.halved.resize(n_done + twos.len() / 2, [0.0; LANES]);
        self.filter.process(twos, &mut self.halved[n_done..]);
    }
}
