//! # Correlation of a stereo pair
//!
//! Whether the two sides of a stereo source pull together or against each other.
//!
//! - **Formula:** `Σ lr / sqrt(Σ l² Σ r²)` in blocks of 400 ms, of the sides within 100 Hz to 2 kHz and within 100 to
//!   500 Hz (Butterworth, 24 dB an octave); median of the blocks, each weighted with its power to 0.3, as loudness
//!   grows; share of the blocks below 0. Blocks count from -60 dBFS, within 30 dB of the 95th percentile
//! - **Unit:** correlation, -1 to 1; %
//! - **Range:** 1 for a mono source, about 0 for a wide one, -1 for a mono source with one side inverted
//! - **Source:** correlation meter practice (Katz, Mastering Audio, from memory); exponent of Stevens 1955 (from memory)
//! - **Window:** whole recording
//! - **No value:** silent; one side is silent; under 4 s of sound
//! - **Misleads when:** a wide synthesiser patch or a chorus turns phases on purpose

use crate::dsp::Decimator;
use crate::dsp::biquad::{Filter, high_pass, low_pass};
use crate::dsp::percentile::percentile;
use crate::unit::{Span, Unmeasured};

/// Edges of the two bands, in Hz.
const LOW_HZ: f64 = 100.0;
const HIGH_HZ: f64 = 2000.0;
const MIDDLE_HZ: f64 = 500.0;

/// Order of the filters: 24 dB an octave keep a kick drum out of the band.
const ORDER: usize = 4;

/// Rate that the sides are decimated to, at most a third more: three times the upper edge.
const LOW_RATE_HZ: u32 = 6000;

/// Length of a block, in seconds.
const BLOCK_S: f64 = 0.4;

/// Blocks below this mean square of both sides together don't count: -60 dBFS.
const QUIET: f64 = 1e-6;

/// Nor those this far below the 95th percentile, as a share of power: 30 dB.
const FAR_BELOW: f64 = 1e-3;

/// A side is silent if it has this share of the power of both: -60 dB.
const SILENT_SIDE: f64 = 1e-6;

/// Fewest blocks: 4 s.
const FEWEST: usize = 10;

/// Exponent of loudness over power.
const LOUDNESS: f64 = 0.3;

/// Most stretches given as evidence.
const MAX_SPANS: usize = 20;

/// How the two sides of a stereo source agree.
#[derive(Clone, Debug, PartialEq)]
pub struct StereoPair {
    /// Correlation within 100 Hz to 2 kHz.
    pub correlation: f64,
    /// Correlation within 100 to 500 Hz.
    pub low_correlation: f64,
    /// Share of active blocks in which the first is below zero, 0 to 100.
    pub inverted_percent: f64,
    /// Share of active blocks in which the second is below zero, 0 to 100.
    pub low_inverted_percent: f64,
    /// Where the first is below zero: the first twenty stretches at most.
    pub inverted: Vec<Span>,
}

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
        self.both / (self.left * self.right).sqrt().max(1e-30)
    }
}

#[derive(Clone, Copy, Debug)]
struct Block {
    correlation: f32,
    low_correlation: f32,
    power: f32,
    number: u32,
}

/// One side on its way to the sums.
struct Side {
    decimator: Decimator,
    band: Filter,
    low: Filter,
    waiting: Vec<f32>,
}

/// Measures one declared pair.
pub struct StereoMeter {
    low_rate_hz: f64,
    block_len: usize,
    sides: [Side; 2],
    n_in_block: usize,
    n_blocks: u32,
    wide: Sums,
    narrow: Sums,
    whole: Sums,
    blocks: Vec<Block>,
}

impl StereoMeter {
    /// A meter for a pair at `rate_hz`.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a block has some thousands of samples"
    )]
    pub fn new(rate_hz: u32) -> Self {
        let factor = (rate_hz / LOW_RATE_HZ).max(1);
        let low_rate_hz = f64::from(rate_hz) / f64::from(factor);
        let high_hz = HIGH_HZ.min(0.4 * low_rate_hz);
        let side = || {
            let mut band = high_pass(low_rate_hz, LOW_HZ, ORDER);
            band.extend(low_pass(low_rate_hz, high_hz, ORDER));
            Side {
                decimator: Decimator::new(f64::from(rate_hz), factor as usize, high_hz),
                band: Filter::new(band),
                low: Filter::new(low_pass(low_rate_hz, MIDDLE_HZ, ORDER)),
                waiting: Vec::new(),
            }
        };
        Self {
            low_rate_hz,
            block_len: (BLOCK_S * low_rate_hz).round() as usize,
            sides: [side(), side()],
            n_in_block: 0,
            n_blocks: 0,
            wide: Sums::default(),
            narrow: Sums::default(),
            whole: Sums::default(),
            blocks: Vec::new(),
        }
    }

    /// Takes a block of both sides.
    ///
    /// # Panics
    ///
    /// If the sides differ in length.
    pub fn push(&mut self, left: &[f32], right: &[f32]) {
        assert_eq!(left.len(), right.len(), "the sides are equally long");
        for (side, samples) in self.sides.iter_mut().zip([left, right]) {
            side.waiting.clear();
            side.decimator.push(samples, &mut side.waiting);
        }
        for idx in 0..self.sides[0].waiting.len() {
            let [(left, low_left), (right, low_right)] = self.sides.each_mut().map(|side| {
                let band = side.band.step(f64::from(side.waiting[idx]));
                (band, side.low.step(band))
            });
            self.wide.add(left, right);
            self.narrow.add(low_left, low_right);
            self.n_in_block += 1;
            if self.n_in_block == self.block_len {
                self.close();
            }
        }
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_precision_loss,
        reason = "blocks are held as f32"
    )]
    fn close(&mut self) {
        let power = (self.wide.left + self.wide.right) / self.block_len as f64;
        self.whole.left += self.wide.left;
        self.whole.right += self.wide.right;
        if power > QUIET {
            self.blocks.push(Block {
                correlation: self.wide.correlation() as f32,
                low_correlation: self.narrow.correlation() as f32,
                power: power as f32,
                number: self.n_blocks,
            });
        }
        (self.wide, self.narrow) = (Sums::default(), Sums::default());
        (self.n_in_block, self.n_blocks) = (0, self.n_blocks + 1);
    }

    /// How the sides agree.
    ///
    /// # Errors
    ///
    /// [`Unmeasured::Silent`]; [`Unmeasured::Because`] if one side is silent; [`Unmeasured::TooLittleActive`] below 4 s.
    #[expect(clippy::cast_precision_loss, reason = "counts of blocks are small")]
    pub fn finish(mut self) -> Result<StereoPair, Unmeasured> {
        let (left, right) = (self.whole.left, self.whole.right);
        if self.blocks.is_empty() {
            return Err(Unmeasured::Silent);
        }
        if left.min(right) < SILENT_SIDE * (left + right) {
            return Err(Unmeasured::Because("one side is silent"));
        }
        let powers: Vec<f64> = self.blocks.iter().map(|block| f64::from(block.power)).collect();
        let top = percentile(&powers, 0.95).unwrap_or(0.0);
        self.blocks.retain(|block| f64::from(block.power) > FAR_BELOW * top);
        let n_blocks = self.blocks.len();
        if n_blocks < FEWEST {
            let have_s = BLOCK_S * n_blocks as f64;
            return Err(Unmeasured::TooLittleActive { have_s, need_s: BLOCK_S * FEWEST as f64 });
        }
        let inverted: Vec<Block> =
            self.blocks.iter().copied().filter(|block| block.correlation < 0.0).collect();
        let n_low = self.blocks.iter().filter(|block| block.low_correlation < 0.0).count();
        let percent = |n: usize| 100.0 * n as f64 / n_blocks as f64;
        Ok(StereoPair {
            correlation: self.weighted_median(|block| block.correlation),
            low_correlation: self.weighted_median(|block| block.low_correlation),
            inverted_percent: percent(inverted.len()),
            low_inverted_percent: percent(n_low),
            inverted: self.spans(&inverted),
        })
    }

    fn weighted_median(&self, of: impl Fn(&Block) -> f32) -> f64 {
        let weighted = self.blocks.iter();
        let mut weighted: Vec<(f64, f64)> = weighted
            .map(|block| (f64::from(of(block)), f64::from(block.power).powf(LOUDNESS)))
            .collect();
        weighted.sort_by(|a, b| a.0.total_cmp(&b.0));
        let half = weighted.iter().map(|(_, weight)| weight).sum::<f64>() / 2.0;
        let mut sum = 0.0;
        let reaches_half = |(_, weight): &&(f64, f64)| {
            sum += weight;
            sum >= half
        };
        weighted.iter().find(reaches_half).map_or(0.0, |(correlation, _)| *correlation)
    }

    #[expect(clippy::cast_precision_loss, reason = "a block has some thousands of samples")]
    fn spans(&self, blocks: &[Block]) -> Vec<Span> {
        let at = |number: u32| f64::from(number) * self.block_len as f64 / self.low_rate_hz;
        let mut spans: Vec<Span> = Vec::new();
        for block in blocks {
            let span = Span::new(at(block.number), at(block.number + 1));
            match spans.last_mut() {
                Some(last) if span.start_s <= last.end_s + 1e-6 => last.end_s = span.end_s,
                _ => spans.push(span),
            }
        }
        spans.truncate(MAX_SPANS);
        spans
    }
}
