//! # Phrases and their spread
//!
//! Where a voice or an instrument sings a phrase, and how much the phrases differ in loudness.
//!
//! - **Formula:** K-weighted levels of 100 ms; a phrase is a run within 25 dB of their 95th percentile, gaps below 0.35 s
//!   joined, 0.6 s or longer; its level is the energy mean of what lies within 20 dB of its maximum. The spread is the 90th
//!   minus the 10th percentile of phrase levels
//! - **Unit:** LU
//! - **Range:** 0 to about 20
//! - **Source:** common practice; with synthetic speech a planted spread of 0 to 6 dB was found within 0.3 dB
//! - **Window:** 100 ms every 20 ms inside the stretches given
//! - **No value:** fewer than 8 phrases
//! - **Misleads when:** spill fills the pauses, so that phrases run into each other

use super::Trace;
use super::sliding::{energy_mean_db, level_db, windows};
use super::trace::FLOOR_DB;
use crate::dsp::gate::loudness_lufs;
use crate::dsp::percentile::percentile;
use crate::unit::{Span, Unmeasured};

/// Window and hop of the levels, in seconds.
const WINDOW_S: f64 = 0.1;
const HOP_S: f64 = 0.02;

/// What belongs to a phrase: this far below the 95th percentile of all levels, in dB.
const LOUD_SHARE: f64 = 0.95;
const WITHIN_DB: f64 = 25.0;

/// Gaps below this are breaths inside a phrase, in seconds.
const GAP_S: f64 = 0.35;

/// Shorter runs are calls and noises, in seconds.
const SHORTEST_S: f64 = 0.6;

/// What counts for a phrase's level: this far below its maximum, in dB.
const CORE_DB: f64 = 20.0;

/// Phrases that the spread needs: with fewer, the percentiles are the two extreme phrases.
pub const SPREAD_NEEDS: usize = 8;

/// Ends of the spread, as shares of the phrases.
const ENDS: [f64; 2] = [0.10, 0.90];

/// A phrase.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Phrase {
    /// When.
    pub span: Span,
    /// Its loudness, in LUFS.
    pub level_lufs: f64,
}

/// The phrases inside stretches, in order of time.
pub fn phrases(k_power: &Trace, active: &[Span]) -> Vec<Phrase> {
    let windows = windows(k_power, active, WINDOW_S, HOP_S);
    let timed: Vec<(f64, f64)> = windows
        .into_iter()
        .map(|window| {
            #[expect(clippy::cast_precision_loss, reason = "a step's number is far below 2^52")]
            let start_s = window.start as f64 * k_power.step_s();
            (start_s, level_db(k_power.mean_power(window.start, window.end)))
        })
        .collect();
    let levels: Vec<f64> = timed.iter().map(|&(_, level_db)| level_db).collect();
    let Some(loud_db) = percentile(&levels, LOUD_SHARE).filter(|&loud_db| loud_db > FLOOR_DB)
    else {
        return Vec::new();
    };
    let mut runs: Vec<Vec<(f64, f64)>> = Vec::new();
    for &(start_s, level_db) in timed.iter().filter(|&&(_, level)| level > loud_db - WITHIN_DB) {
        match runs.last_mut() {
            Some(run) if run.last().is_some_and(|last| start_s - last.0 < GAP_S + HOP_S) => {
                run.push((start_s, level_db));
            }
            _ => runs.push(vec![(start_s, level_db)]),
        }
    }
    runs.iter().filter_map(|run| phrase(run)).collect()
}

/// The phrase that a run of windows makes, if it is long enough.
fn phrase(run: &[(f64, f64)]) -> Option<Phrase> {
    let (first, last) = (run.first()?.0, run.last()?.0);
    // The first and last windows reach over the border by half of their length.
    let span = Span::new(first + (WINDOW_S - HOP_S) / 2.0, last + (WINDOW_S + HOP_S) / 2.0);
    let top_db = run.iter().map(|&(_, level_db)| level_db).fold(FLOOR_DB, f64::max);
    let levels = run.iter().map(|&(_, level_db)| level_db);
    let core: Vec<f64> = levels.filter(|&level_db| level_db > top_db - CORE_DB).collect();
    let level_lufs = loudness_lufs(10f64.powf(energy_mean_db(&core) / 10.0));
    // Slack for rounding: the length is a whole number of hops.
    (span.length_s() >= SHORTEST_S - 1e-6).then_some(Phrase { span, level_lufs })
}

/// Spread of phrase levels, in LU.
///
/// # Errors
///
/// [`Unmeasured::TooFewEvents`] below [`SPREAD_NEEDS`] phrases.
pub fn phrase_spread_lu(phrases: &[Phrase]) -> Result<f64, Unmeasured> {
    let too_few = Unmeasured::TooFewEvents { have: phrases.len(), need: SPREAD_NEEDS };
    if phrases.len() < SPREAD_NEEDS {
        return Err(too_few);
    }
    let levels: Vec<f64> = phrases.iter().map(|phrase| phrase.level_lufs).collect();
    let [low, high] = ENDS.map(|share| percentile(&levels, share));
    Ok(high.ok_or(too_few.clone())? - low.ok_or(too_few)?)
}
