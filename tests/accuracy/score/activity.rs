//! Own-source activity: F1 by frame, and the share of time.
//!
//! Frames last 85 ms and begin every 43 ms: two steps of the truth. A frame is active if the own sources alone lie within 25 dB of their
//! 98th percentile there; frames from 20 to 30 dB under it are left out of the F1, as nobody could say what they are.

use deskside::unit::Span;

use super::bars::SHARE_OFF;
use super::percentile;
use super::told::Told;
use super::truth::{ACTIVE_DB, Alone, SILENT_DBFS, Truth};

/// Frames between these are not scored, in dB under the 98th percentile.
const UNSCORED_DB: (f64, f64) = (20.0, 30.0);

/// Score of one channel.
#[derive(Clone, Debug)]
pub(crate) struct Score {
    /// Its name.
    pub(crate) channel: String,
    /// Harmonic mean of precision and recall of active frames, 0 to 1.
    pub(crate) f1: f64,
    /// How far the share of time is off, 0 to 1.
    pub(crate) share_off: f64,
}

/// Score of the spans told of a channel; none if its sources never sound.
pub(crate) fn score(channel: &str, alone: &Alone, told: &[Span]) -> Option<Score> {
    let levels = alone.frames_dbfs();
    let top_dbfs = percentile(&levels, 98.0).filter(|top| *top > SILENT_DBFS)?;
    let (mut n_hit, mut n_false, mut n_missed, mut n_active) = (0_usize, 0_usize, 0_usize, 0_usize);
    for (idx, level_dbfs) in levels.iter().enumerate() {
        let at_s = (idx as f64 + 1.0) * alone.step_s;
        let below_db = top_dbfs - level_dbfs;
        let is_active = below_db < ACTIVE_DB;
        n_active += usize::from(is_active);
        if (UNSCORED_DB.0..UNSCORED_DB.1).contains(&below_db) {
            continue;
        }
        let is_told = told.iter().any(|span| span.holds(at_s));
        n_hit += usize::from(is_active && is_told);
        n_false += usize::from(!is_active && is_told);
        n_missed += usize::from(is_active && !is_told);
    }
    let told_s: f64 = told.iter().map(|span| span.length_s()).sum();
    let length_s = levels.len() as f64 * alone.step_s;
    let both = 2 * n_hit + n_false + n_missed;
    Some(Score {
        channel: channel.to_owned(),
        f1: if both > 0 { 2.0 * n_hit as f64 / both as f64 } else { 0.0 },
        share_off: (told_s / length_s - n_active as f64 / levels.len() as f64).abs(),
    })
}

/// Scores of the microphones of a scene. Overheads and room microphones are left out: what is their own is a matter of taste.
pub(crate) fn scores(truth: &Truth, told: &Told) -> Vec<Score> {
    let channels = truth.channels.iter().filter(|channel| channel.is_close());
    channels
        .filter_map(|channel| {
            let alone = channel.own_alone.as_ref().filter(|alone| alone.is_mic)?;
            let spans = told.active.iter().find(|(name, _)| *name == channel.name);
            score(&channel.name, alone, spans.map_or(&[], |(_, spans)| spans))
        })
        .collect()
}

/// Mean of the F1, its 10th percentile, and the share of channels whose share of time is right; none of nothing.
pub(crate) fn summary(scores: &[Score]) -> Option<(f64, f64, f64)> {
    let f1: Vec<f64> = scores.iter().map(|score| score.f1).collect();
    let n_right = scores.iter().filter(|score| score.share_off <= SHARE_OFF).count();
    let n = scores.len() as f64;
    Some((f1.iter().sum::<f64>() / n, percentile(&f1, 10.0)?, n_right as f64 / n))
}
