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
use crate::dsp::percentile::percentile;
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
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss,
    reason = "counts of steps are small"
)]
pub fn compressor(levels: &Trace, ratio: f64, aim_db: f64) -> Result<Threshold, Unmeasured> {
    if ratio.is_nan() || ratio <= LEAST_RATIO {
        return Err(Unmeasured::Because("the ratio is too low for such a reduction"));
    }
    let reach = ((0.5 * LEVEL_S / levels.step_s()).round() as usize).max(1);
    let long = |step: usize| {
        10.0 * levels.mean_power(step.saturating_sub(reach), step + reach).max(1e-22).log10()
    };
    let long_dbfs: Vec<f64> = (0..levels.len()).map(long).collect();
    let sounds: Vec<f64> = long_dbfs.iter().copied().filter(|&level| level > -200.0).collect();
    let high_dbfs = percentile(&sounds, 0.95).ok_or(Unmeasured::Silent)?;
    let programme: Vec<usize> =
        (0..levels.len()).filter(|&step| long_dbfs[step] > high_dbfs - WITHIN_DB).collect();
    let have_s = programme.len() as f64 * levels.step_s();
    if have_s < NEEDS_S {
        return Err(Unmeasured::TooLittleActive { have_s, need_s: NEEDS_S });
    }
    let dbfs: Vec<f64> = (0..levels.len()).map(|step| levels.level_db(step)).collect();
    let reduced = |threshold_dbfs: f64| -> Vec<f64> {
        let all = reduction_db(&dbfs, levels.step_s(), threshold_dbfs, ratio);
        programme.iter().map(|&step| all[step]).collect()
    };
    let [mut low, mut high] = RANGE_DBFS;
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        let is_too_much = percentile(&reduced(middle), SHARE).is_some_and(|db| db > aim_db);
        if is_too_much { low = middle } else { high = middle }
    }
    let threshold_dbfs = 0.5 * (low + high);
    let in_programme = reduced(threshold_dbfs);
    let median_db = percentile(&in_programme, 0.5).unwrap_or(0.0);
    let most_db = in_programme.iter().copied().fold(0.0, f64::max);
    Ok(Threshold { threshold_dbfs, median_db, most_db })
}

/// Reduction of the compressor step by step.
fn reduction_db(dbfs: &[f64], step_s: f64, threshold_dbfs: f64, ratio: f64) -> Vec<f64> {
    let slope = 1.0 - 1.0 / ratio;
    let [attack, release] = [ATTACK_S, RELEASE_S].map(|time_s| (-step_s / time_s).exp());
    let mut reduction = 0.0;
    let step = |&level_dbfs: &f64| {
        let over = level_dbfs - threshold_dbfs;
        let wanted = if over <= -0.5 * KNEE_DB {
            0.0
        } else if over < 0.5 * KNEE_DB {
            slope * (over + 0.5 * KNEE_DB).powi(2) / (2.0 * KNEE_DB)
        } else {
            slope * over
        };
        let keep = if wanted > reduction { attack } else { release };
        reduction = keep * reduction + (1.0 - keep) * wanted;
        reduction
    };
    dbfs.iter().map(step).collect()
}
