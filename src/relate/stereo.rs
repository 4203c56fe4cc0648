//! # Agreement of two sides
//!
//! Whether left and right of one source push and pull together.
//!
//! - **Formula:** in each 400 ms block `r = sum(l n) / sqrt(sum(l l) sum(n n))` of the two sides `l` and `n` between 100 Hz
//!   and 2 kHz, and again between 100 and 500 Hz; the figure is the median of the blocks, weighted by their power
//! - **Unit:** correlation
//! - **Range:** -1 (one side inverted) to 1 (mono)
//! - **Source:** Pearson's correlation; a correlation meter for stereo is common practice
//! - **Window:** active blocks: within 20 dB of the 95th percentile of their power
//! - **No value:** fewer than 10 s of active blocks, or a silent side
//! - **Misleads when:** a wide patch or a chorus effect turns one side for a moment: the share of blocks tells

use crate::dsp::biquad::{Filter, band_pass};
use crate::dsp::percentile::percentile;
use crate::unit::Unmeasured;

/// Blocks in a second.
const BLOCKS_PER_S: f64 = 2.5;

/// Least number of active blocks: 10 s.
const NEEDS_BLOCKS: usize = 25;

/// Blocks this far under the loud ones don't count, in dB.
const GATE_DB: f64 = 20.0;

/// Edges of the whole band and of its low part, in Hz.
const BAND_HZ: [f64; 2] = [100.0, 2000.0];
const LOW_BAND_HZ: [f64; 2] = [100.0, 500.0];

/// How two sides agree.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Agreement {
    /// Power-weighted median of the blocks, 100 Hz to 2 kHz.
    pub correlation: f64,
    /// The same, 100 to 500 Hz.
    pub low_correlation: f64,
    /// Share of active blocks in which the correlation lies below 0, 0 to 100.
    pub inverted_percent: f64,
}

/// Sums of a block in one band.
#[derive(Clone, Copy, Debug, Default)]
struct Sums {
    left: f64,
    right: f64,
    both: f64,
}

impl Sums {
    fn add(&mut self, left: f64, right: f64) {
        self.left += left * left;
        self.right += right * right;
        self.both += left * right;
    }

    fn correlation(self) -> f64 {
        let size = (self.left * self.right).sqrt();
        if size > 0.0 { self.both / size } else { 0.0 }
    }
}

/// A block: its power and its correlations in the whole band and the low one.
#[derive(Clone, Copy, Debug)]
struct Block {
    power: f32,
    correlation: f32,
    low_correlation: f32,
}

/// Measures how two sides agree. It keeps 12 bytes a block: 30 bytes a second.
#[derive(Clone, Debug)]
pub struct StereoMeter {
    /// Left and right: the whole band, then the low one.
    filters: [[Filter; 2]; 2],
    sums: [Sums; 2],
    block_len: usize,
    n_in_block: usize,
    blocks: Vec<Block>,
}

impl StereoMeter {
    /// A meter for one pair.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a rate is positive and small"
    )]
    pub fn new(rate_hz: u32) -> Self {
        let rate = f64::from(rate_hz);
        let filter = |[low_hz, high_hz]: [f64; 2]| Filter::new(band_pass(rate, low_hz, high_hz, 2));
        let pair = |band: [f64; 2]| [filter(band), filter(band)];
        Self {
            filters: [pair(BAND_HZ), pair(LOW_BAND_HZ)],
            sums: [Sums::default(); 2],
            block_len: (rate / BLOCKS_PER_S) as usize,
            n_in_block: 0,
            blocks: Vec::new(),
        }
    }

    /// Takes the next samples of both sides.
    ///
    /// # Panics
    ///
    /// If the sides differ in length.
    pub fn push(&mut self, left: &[f32], right: &[f32]) {
        assert_eq!(left.len(), right.len(), "both sides bring the same seconds");
        for (&left, &right) in left.iter().zip(right) {
            let (left, right) = (f64::from(left), f64::from(right));
            for ([of_left, of_right], sums) in self.filters.iter_mut().zip(&mut self.sums) {
                sums.add(of_left.step(left), of_right.step(right));
            }
            self.n_in_block += 1;
            if self.n_in_block == self.block_len {
                self.end_block();
            }
        }
    }

    #[expect(clippy::cast_possible_truncation, reason = "seven digits are enough for a block")]
    fn end_block(&mut self) {
        let [whole, low] = std::mem::take(&mut self.sums);
        self.n_in_block = 0;
        self.blocks.push(Block {
            power: (whole.left + whole.right) as f32,
            correlation: whole.correlation() as f32,
            low_correlation: low.correlation() as f32,
        });
    }

    /// How the sides agree.
    ///
    /// # Errors
    ///
    /// [`Unmeasured::Silent`] if nothing sounds, [`Unmeasured::TooShort`] below 10 s of active blocks.
    #[expect(clippy::cast_precision_loss, reason = "a count of blocks is far below 2^52")]
    pub fn finish(self) -> Result<Agreement, Unmeasured> {
        let powers: Vec<f64> = self.blocks.iter().map(|block| f64::from(block.power)).collect();
        let loud = percentile(&powers, 0.95).unwrap_or(0.0);
        if loud <= 0.0 {
            return Err(Unmeasured::Silent);
        }
        let gate = loud * 10f64.powf(-GATE_DB / 10.0);
        let active: Vec<Block> =
            self.blocks.into_iter().filter(|block| f64::from(block.power) >= gate).collect();
        if active.len() < NEEDS_BLOCKS {
            let seconds = |n_blocks: usize| n_blocks as f64 / BLOCKS_PER_S;
            return Err(Unmeasured::TooShort {
                have_s: seconds(active.len()),
                need_s: seconds(NEEDS_BLOCKS),
            });
        }
        let n_inverted = active.iter().filter(|block| block.correlation < 0.0).count();
        Ok(Agreement {
            correlation: weighted_median(&active, |block| block.correlation),
            low_correlation: weighted_median(&active, |block| block.low_correlation),
            inverted_percent: 100.0 * n_inverted as f64 / active.len() as f64,
        })
    }
}

/// The value at which half of the power lies on either side.
fn weighted_median(blocks: &[Block], pick: fn(&Block) -> f32) -> f64 {
    let mut weighted: Vec<(f64, f64)> =
        blocks.iter().map(|block| (f64::from(pick(block)), f64::from(block.power))).collect();
    weighted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let half = weighted.iter().map(|(_, power)| power).sum::<f64>() / 2.0;
    let mut below = 0.0;
    for (value, power) in weighted {
        below += power;
        if below >= half {
            return value;
        }
    }
    0.0
}
