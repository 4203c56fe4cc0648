//! # Pumping
//!
//! How far a gain breathes in time with the music.
//!
//! - **Formula:** in blocks of 10 s the gain in dB minus its running mean over 1 s; swing: 95th minus 5th percentile; a block pumps if its
//!   autocorrelation has a peak of 0.4 or more between 0.125 and 1 s; median of the blocks that pump
//! - **Unit:** dB
//! - **Range:** 0 to 20; movements of 1 to 8 Hz
//! - **Source:** common practice; autocorrelation as in any textbook on signals
//! - **Window:** 10 s
//! - **No value:** fewer than two blocks that pump: 20 beats at 1 Hz
//! - **Misleads when:** a tremolo or a side chain is meant so

use crate::dsp::percentile::{median, percentile};
use crate::unit::Unmeasured;

/// Length of a block and of the running mean, in seconds.
const BLOCK_S: f64 = 10.0;
const MEAN_S: f64 = 1.0;

/// Times between two surges, in seconds.
const BEAT_S: [f64; 2] = [0.125, 1.0];

/// How alike a gain is to itself a beat later.
const ALIKE: f64 = 0.4;

/// Blocks that have to pump.
const NEEDS_BLOCKS: usize = 2;

/// Swing of a gain that pumps. `gain_db` holds steps of `step_s`.
///
/// # Errors
///
/// [`Unmeasured::Because`] if it does not keep time for long enough.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "counts of steps are small and positive"
)]
pub fn swing_db(gain_db: &[f32], step_s: f64) -> Result<f64, Unmeasured> {
    let steps = |seconds: f64| (seconds / step_s).round().max(1.0) as usize;
    let swings: Vec<f64> = gain_db
        .chunks_exact(steps(BLOCK_S))
        .filter_map(|block| {
            let fast = without_mean(block, steps(MEAN_S));
            let keeps_time = alike(&fast, steps(BEAT_S[0])..=steps(BEAT_S[1])) >= ALIKE;
            let swing = percentile(&fast, 0.95)? - percentile(&fast, 0.05)?;
            keeps_time.then_some(swing)
        })
        .collect();
    median(&swings)
        .filter(|_| swings.len() >= NEEDS_BLOCKS)
        .ok_or(Unmeasured::Because("its gain keeps no time"))
}

/// Values minus the mean of those around.
#[expect(clippy::cast_precision_loss, reason = "counts of steps are small")]
fn without_mean(block: &[f32], width: usize) -> Vec<f64> {
    let mut sums = vec![0.0f64];
    for &x in block {
        sums.push(sums[sums.len() - 1] + f64::from(x));
    }
    (0..block.len())
        .map(|at| {
            let (from, to) = (at.saturating_sub(width / 2), (at + width / 2 + 1).min(block.len()));
            f64::from(block[at]) - (sums[to] - sums[from]) / (to - from) as f64
        })
        .collect()
}

/// Largest peak of the autocorrelation within some lags, re its value at 0.
fn alike(values: &[f64], lags: std::ops::RangeInclusive<usize>) -> f64 {
    let at = |lag: usize| -> f64 {
        values.iter().zip(values.iter().skip(lag)).map(|(a, b)| a * b).sum()
    };
    let power = at(0);
    let is_peak = |&lag: &usize| at(lag) >= at(lag.saturating_sub(1)) && at(lag) >= at(lag + 1);
    let best = lags.filter(is_peak).map(at).fold(0.0, f64::max);
    if power > 0.0 { best / power } else { 0.0 }
}
