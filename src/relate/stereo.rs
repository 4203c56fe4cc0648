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

use crate::dsp::Group;
use crate::dsp::biquad::{Biquad, band_pass};
use crate::dsp::lanes::{Framer, Isa, LANES, State64, for_each_pack, paired_energy};
use crate::dsp::percentile::percentile;
use crate::dsp::steps::Steps;
use crate::unit::Unmeasured;

/// Pairs measured at once.
pub const MAX_PAIRS: usize = LANES / 2;

/// Steps in a second, in which the samples are filtered, and how many make a block.
const STEPS_PER_S: u32 = 100;
const STEPS_IN_BLOCK: usize = 40;

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

/// One band of eight sides, and the sums of the block that fills.
#[derive(Clone, Debug)]
struct Band {
    sections: [Biquad; 2],
    state: State64<2>,
    energy: [f64; LANES],
    both: [f64; LANES],
}

impl Band {
    fn new(rate_hz: u32, [low_hz, high_hz]: [f64; 2]) -> Self {
        let sections = band_pass(f64::from(rate_hz), low_hz, high_hz, 2);
        Self {
            sections: [sections[0], sections[1]],
            state: [[[0.0; LANES]; 2]; 2],
            energy: [0.0; LANES],
            both: [0.0; LANES],
        }
    }

    /// Energy of both sides of a pair.
    fn power(&self, pair: usize) -> f64 {
        self.energy[2 * pair] + self.energy[2 * pair + 1]
    }

    fn correlation(&self, pair: usize) -> f64 {
        let size = (self.energy[2 * pair] * self.energy[2 * pair + 1]).sqrt();
        if size > 0.0 { self.both[2 * pair] / size } else { 0.0 }
    }
}

/// A block: its power and its correlations in the whole band and the low one.
#[derive(Clone, Copy, Debug)]
struct Block {
    power: f32,
    correlation: f32,
    low_correlation: f32,
}

/// Measures how two sides agree, of up to four pairs. It keeps 12 bytes a block: 30 bytes a second.
#[derive(Clone, Debug)]
pub struct StereoMeter {
    isa: Isa,
    /// The whole band, then the low one.
    bands: [Band; 2],
    framer: Framer,
    steps: Steps,
    n_steps: usize,
    pairs: Vec<Vec<Block>>,
}

impl StereoMeter {
    /// A meter for some pairs of one rate.
    ///
    /// # Panics
    ///
    /// If there are more than [`MAX_PAIRS`].
    pub fn new(rate_hz: u32, n_pairs: usize) -> Self {
        assert!(n_pairs <= MAX_PAIRS, "a meter holds up to {MAX_PAIRS} pairs, asked for {n_pairs}");
        let mut steps = Steps::new(rate_hz, STEPS_PER_S);
        Self {
            isa: Isa::best(),
            bands: [BAND_HZ, LOW_BAND_HZ].map(|band_hz| Band::new(rate_hz, band_hz)),
            framer: Framer::new(steps.take()),
            steps,
            n_steps: 0,
            pairs: vec![Vec::new(); n_pairs],
        }
    }

    /// Takes the next samples: left and right of the first pair, left and right of the second ..
    pub fn push(&mut self, sides: Group<'_>) {
        let Self { isa, bands, framer, steps, n_steps, pairs } = self;
        for_each_pack(*isa, sides, |frames| {
            framer.push(frames, |frames| {
                for Band { sections, state, energy, both } in &mut *bands {
                    paired_energy(*isa, frames, sections, state, energy, both);
                }
                *n_steps += 1;
                if *n_steps == STEPS_IN_BLOCK {
                    *n_steps = 0;
                    end_block(bands, pairs);
                }
                steps.take()
            });
        });
    }

    /// How the sides of each pair agree.
    ///
    /// # Errors
    ///
    /// Inside: [`Unmeasured::Silent`] if nothing sounds, [`Unmeasured::TooShort`] below 10 s of active blocks.
    pub fn finish(self) -> Vec<Result<Agreement, Unmeasured>> {
        self.pairs.iter().map(|blocks| agreement(blocks)).collect()
    }
}

/// Notes a block of each pair and begins the next.
#[expect(clippy::cast_possible_truncation, reason = "seven digits are enough for a block")]
fn end_block(bands: &mut [Band; 2], pairs: &mut [Vec<Block>]) {
    let [whole, low] = &*bands;
    for (pair, blocks) in pairs.iter_mut().enumerate() {
        blocks.push(Block {
            power: whole.power(pair) as f32,
            correlation: whole.correlation(pair) as f32,
            low_correlation: low.correlation(pair) as f32,
        });
    }
    for band in bands {
        (band.energy, band.both) = ([0.0; LANES], [0.0; LANES]);
    }
}

#[expect(clippy::cast_precision_loss, reason = "a count of blocks is far below 2^52")]
fn agreement(blocks: &[Block]) -> Result<Agreement, Unmeasured> {
    let powers: Vec<f64> = blocks.iter().map(|block| f64::from(block.power)).collect();
    let loud = percentile(&powers, 0.95).unwrap_or(0.0);
    if loud <= 0.0 {
        return Err(Unmeasured::Silent);
    }
    let gate = loud * 10f64.powf(-GATE_DB / 10.0);
    let is_active = |block: &&Block| f64::from(block.power) >= gate;
    let active: Vec<Block> = blocks.iter().filter(is_active).copied().collect();
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
