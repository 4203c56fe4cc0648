//! # Compressor threshold to start from
//!
//! Where a compressor's threshold would have to stand for the reduction that is common practice, from the raw channel alone.
//!
//! - **Formula:** a compressor (levels of 10 ms, knee of 6 dB, attack 10 ms, release 120 ms, on levels in dB) is run on the
//!   channel's levels, and its threshold moved until the 90th percentile of the reduction in programme is what is aimed at; programme:
//!   steps whose level over 400 ms lies within 20 dB of its 95th percentile
//! - **Unit:** dBFS at the raw tap; dB
//! - **Range:** -90 to 0 dBFS
//! - **Source:** 6 to at most 9 dB on loud phrases of a voice, 3 to 6 dB on loud notes of an instrument: common practice; design after D. Giannoulis, M. Massberg, J. D. Reiss, JAES
//!   60(6), 2012. At the same threshold other designs turned ten instruments down by 0.5 dB less to 3.8 dB more
//! - **Window:** whole recording
//! - **No value:** under 20 s of programme; a ratio of 1.2 or less
//! - **Misleads when:** gain before the compressor is changed; spill is as loud as the channel's own source

use super::Trace;
use crate::dsp::percentile::{is_above, percentile};
use crate::unit::Unmeasured;

/// Reduction that is aimed at on voices: the middle of 6 to 9 dB.
pub const VOICE_DB: f64 = 7.5;

/// The same on instruments: the middle of 3 to 6 dB.
pub const INSTRUMENT_DB: f64 = 4.5;

/// Share of the programme that stays below.
const SHARE: f64 = 0.90;

/// The compressor: knee in dB, times in seconds.
const KNEE_DB: f64 = 6.0;
const ATTACK_S: f64 = 0.010;
const RELEASE_S: f64 = 0.120;

/// Programme: level over this time, within this of its 95th percentile; how much of it is needed.
const LEVEL_S: f64 = 0.4;
const WITHIN_DB: f64 = 20.0;
const NEEDS_S: f64 = 20.0;

/// Least ratio: below, no threshold brings the reduction.
const LEAST_RATIO: f64 = 1.2;

/// Thresholds that are tried, in dBFS, and how often the range is halved: to 0.01 dB.
const RANGE_DBFS: [f64; 2] = [-90.0, 0.0];
const HALVINGS: usize = 14;

/// A threshold and what it does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Threshold {
    /// The threshold.
    pub threshold_dbfs: f64,
    /// Median of the reduction in programme.
    pub median_db: f64,
    /// Highest reduction.
    pub most_db: f64,
}

/// The threshold that gives a reduction of `aim_db` in loud phrases at a ratio, from levels in steps of 10 ms.
///
/// # Errors
///
/// [`Unmeasured::Silent`]; [`Unmeasured::TooLittleActive`] below 20 s of programme; a ratio that is too low.
pub fn compressor(levels: &Trace, ratio: f64, aim_db: f64) -> Result<Threshold, Unmeasured> {
    compressors(levels, [ratio], aim_db).map(|[found]| found)
}

/// The same at several ratios. They are tried side by side: each step of a reduction waits for the one before.
///
/// # Errors
///
/// As [`compressor`]; none is found where one of the ratios is too low.
pub fn compressors<const N: usize>(
    levels: &Trace,
    ratios: [f64; N],
    aim_db: f64,
) -> Result<[Threshold; N], Unmeasured> {
    if ratios.iter().any(|ratio| ratio.is_nan() || *ratio <= LEAST_RATIO) {
        return Err(Unmeasured::Because("the ratio is too low for such a reduction"));
    }
    let programme = Programme::of(levels)?;
    let slopes = ratios.map(|ratio| 1.0 - 1.0 / ratio);
    let mut reductions_db = [const { Vec::new() }; N];
    let [mut low, mut high] = RANGE_DBFS.map(|end_dbfs| [end_dbfs; N]);
    for _ in 0..HALVINGS {
        let middle = middles(&low, &high);
        programme.reduce(&middle, &slopes, &mut reductions_db);
        for (lane, reductions_db) in reductions_db.iter().enumerate() {
            let is_too_much = is_above(reductions_db, SHARE, aim_db);
            let end = if is_too_much { &mut low } else { &mut high };
            end[lane] = middle[lane];
        }
    }
    let thresholds_dbfs = middles(&low, &high);
    programme.reduce(&thresholds_dbfs, &slopes, &mut reductions_db);
    Ok(std::array::from_fn(|lane| Threshold {
        threshold_dbfs: thresholds_dbfs[lane],
        median_db: percentile(&reductions_db[lane], 0.5).unwrap_or(0.0),
        most_db: reductions_db[lane].iter().copied().fold(0.0, f64::max),
    }))
}

fn middles<const N: usize>(low: &[f64; N], high: &[f64; N]) -> [f64; N] {
    std::array::from_fn(|lane| 0.5 * (low[lane] + high[lane]))
}

/// Levels, and which of them are programme.
struct Programme {
    step_s: f64,
    dbfs: Vec<f64>,
    counts: Vec<bool>,
}

impl Programme {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss,
        reason = "counts of steps are small"
    )]
    fn of(levels: &Trace) -> Result<Self, Unmeasured> {
        let reach = ((0.5 * LEVEL_S / levels.step_s()).round() as usize).max(1);
        let powers = levels.mean_powers_around(reach);
        let long_dbfs: Vec<f64> =
            powers.iter().map(|power| 10.0 * power.max(1e-22).log10()).collect();
        let sounds: Vec<f64> = long_dbfs.iter().copied().filter(|&level| level > -200.0).collect();
        let high_dbfs = percentile(&sounds, 0.95).ok_or(Unmeasured::Silent)?;
        let counts: Vec<bool> =
            long_dbfs.iter().map(|&level| level > high_dbfs - WITHIN_DB).collect();
        let have_s = counts.iter().filter(|counts| **counts).count() as f64 * levels.step_s();
        if have_s < NEEDS_S {
            return Err(Unmeasured::TooLittleActive { have_s, need_s: NEEDS_S });
        }
        let dbfs = levels.levels_in_db(0..levels.len());
        Ok(Self { step_s: levels.step_s(), dbfs, counts })
    }

    /// Reductions of some compressors in programme, step by step.
    fn reduce<const N: usize>(
        &self,
        thresholds_dbfs: &[f64; N],
        slopes: &[f64; N],
        reductions_db: &mut [Vec<f64>; N],
    ) {
        let [attack, release] = [ATTACK_S, RELEASE_S].map(|time_s| (-self.step_s / time_s).exp());
        let mut now = [0.0; N];
        reductions_db.iter_mut().for_each(Vec::clear);
        for (level_dbfs, counts) in self.dbfs.iter().zip(&self.counts) {
            for ((now, threshold_dbfs), slope) in now.iter_mut().zip(thresholds_dbfs).zip(slopes) {
                let wanted = wanted_db(level_dbfs - threshold_dbfs, *slope);
                let keep = if wanted > *now { attack } else { release };
                *now = keep * *now + (1.0 - keep) * wanted;
            }
            if *counts {
                reductions_db.iter_mut().zip(now).for_each(|(all, now)| all.push(now));
            }
        }
    }
}

/// What the curve with its knee takes off a level so far over the threshold.
fn wanted_db(over_db: f64, slope: f64) -> f64 {
    let in_knee = slope * (over_db + 0.5 * KNEE_DB).powi(2) / (2.0 * KNEE_DB);
    let above = if over_db < 0.5 * KNEE_DB { in_knee } else { slope * over_db };
    if over_db <= -0.5 * KNEE_DB { 0.0 } else { above }
}
