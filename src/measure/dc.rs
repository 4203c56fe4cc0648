//! # DC offset
//!
//! How far the middle of the waveform lies beside zero.
//!
//! - **Formula:** median over blocks of 10 s of `20 log10 |(1/N) Σ x[n]|`, where `x[n]` are the samples of a block
//!   and `N` their number; beside it the share of blocks whose mean has the sign that most have, silent ones left out
//! - **Unit:** dBFS; %
//! - **Range:** -144.5 dBFS (one 24-bit step; lower reads as this) upwards
//! - **Source:** definition; the block length is common practice
//! - **Window:** whole recording; a last block counts from 5 s, a recording under 10 s is one block
//! - **No value:** the channel is silent; it is shorter than 1 s
//! - **Misleads when:** there is rumble far below 1 Hz (wind, handling): then the signs change, and it is no offset

use crate::dsp::lanes::{Isa, sum_of};
use crate::dsp::{Frames, Group};
use crate::unit::Unmeasured;

/// Length of a block.
const BLOCK_S: f64 = 10.0;

/// Shortest recording that has an offset at all.
const SHORTEST_S: f64 = 1.0;

/// Samples summed at a time; the order of sums doesn't depend on how blocks are cut.
const HOP: usize = 1000;

/// One 24-bit step, in dB.
const FLOOR_DBFS: f64 = -144.5;

/// Blocks share a sign in an offset: this many of a hundred.
const SAME_SIGN_PERCENT: f64 = 90.0;

/// Offset of one channel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dc {
    /// Median over blocks of the size of the mean.
    pub level_dbfs: f64,
    /// Share of blocks whose mean has the commoner sign, 0 to 100.
    pub same_sign_percent: f64,
}

impl Dc {
    /// Whether it is an offset and not slow rumble: the sign stays.
    pub fn is_steady(&self) -> bool {
        self.same_sign_percent >= SAME_SIGN_PERCENT
    }
}

/// Measures the offset.
#[derive(Clone, Debug)]
pub struct DcMeter {
    isa: Isa,
    rate_hz: f64,
    channels: Vec<(Frames, Blocks)>,
}

#[derive(Clone, Debug, Default)]
struct Blocks {
    sum: f64,
    n_samples: usize,
    is_sounding: bool,
    means: Vec<f64>,
}

impl Blocks {
    #[expect(clippy::cast_precision_loss, reason = "a block has some 10^6 samples")]
    fn take(&mut self, isa: Isa, samples: &[f32], rate_hz: f64) {
        self.sum += sum_of(isa, samples);
        self.is_sounding = self.is_sounding || samples.iter().any(|&x| x.abs() > 0.0);
        self.n_samples += samples.len();
        if self.n_samples as f64 >= BLOCK_S * rate_hz {
            self.close();
        }
    }

    #[expect(clippy::cast_precision_loss, reason = "a block has some 10^6 samples")]
    fn close(&mut self) {
        self.means.push(self.sum / self.n_samples as f64);
        (self.sum, self.n_samples) = (0.0, 0);
    }
}

impl DcMeter {
    /// A meter for `n_channels` at `rate_hz`.
    pub fn new(rate_hz: u32, n_channels: usize) -> Self {
        let channels = vec![(Frames::new(0, HOP), Blocks::default()); n_channels];
        Self { isa: Isa::best(), rate_hz: f64::from(rate_hz), channels }
    }

    /// Takes a block.
    pub fn push(&mut self, group: Group<'_>) {
        for ((frames, blocks), plane) in self.channels.iter_mut().zip(group.planes()) {
            frames.push(plane, |_, frame| blocks.take(self.isa, frame, self.rate_hz));
        }
    }

    /// The offset of each channel.
    ///
    /// # Errors
    ///
    /// Inside: [`Unmeasured::Silent`] if no sample differs from zero; [`Unmeasured::TooShort`] below 1 s.
    pub fn finish(self) -> Vec<Result<Dc, Unmeasured>> {
        let (isa, rate_hz) = (self.isa, self.rate_hz);
        let finish = |(frames, mut blocks): (Frames, Blocks)| {
            frames.finish(|_, frame| blocks.take(isa, frame, rate_hz));
            judge(blocks, rate_hz)
        };
        self.channels.into_iter().map(finish).collect()
    }
}

#[expect(clippy::cast_precision_loss, reason = "counts are far below 2^52")]
fn judge(mut blocks: Blocks, rate_hz: f64) -> Result<Dc, Unmeasured> {
    if !blocks.is_sounding {
        return Err(Unmeasured::Silent);
    }
    let rest_s = blocks.n_samples as f64 / rate_hz;
    let needed_s = if blocks.means.is_empty() { SHORTEST_S } else { BLOCK_S / 2.0 };
    if rest_s >= needed_s {
        blocks.close();
    }
    let n_positive = blocks.means.iter().filter(|&&mean| mean > 0.0).count();
    let n_blocks = blocks.means.len();
    let mut sizes: Vec<f64> = blocks.means.iter().map(|mean| mean.abs()).collect();
    sizes.sort_by(f64::total_cmp);
    let Some(&size) = sizes.get(n_blocks / 2) else {
        return Err(Unmeasured::TooShort { have_s: rest_s, need_s: SHORTEST_S });
    };
    let level_dbfs = 20.0 * size.max(1e-30).log10();
    // A silent block has no sign.
    let n_negative = blocks.means.iter().filter(|&&mean| mean < 0.0).count();
    let (n_same, n_signed) = (n_positive.max(n_negative), n_positive + n_negative);
    let same_share = if n_signed == 0 { 1.0 } else { n_same as f64 / n_signed as f64 };
    Ok(Dc { level_dbfs: level_dbfs.max(FLOOR_DBFS), same_sign_percent: 100.0 * same_share })
}
