//! Stretches in which every channel is quiet.
//!
//! Takes levels and the typical level of each channel, gives spans of 1 s or more in which every channel lies 25 dB
//! under its typical level (common practice). A channel whose own noise stands higher is quiet within 6 dB of its 3rd
//! percentile, but 12 dB under its typical level at least; without that, one humming input would hide every pause.
//! Channels without a typical level or without any pause are passed over. Never gives a stretch for a session in
//! which no channel has sounded.

use crate::dsp::percentile::percentile;
use crate::measure::Trace;
use crate::unit::Span;

use super::frames::{self, Levels};

/// How far under its typical level a channel is quiet, in dB.
const UNDER_TYPICAL_DB: f64 = 25.0;

/// How far above its 3rd percentile it still is, in dB.
const OVER_FLOOR_DB: f64 = 6.0;

/// How far under its typical level at least, in dB. A channel that never falls that far has no pause.
const LEAST_DB: f64 = 12.0;

/// Shortest stretch, in frames of 100 ms: the quiet level is taken over 1 s.
const SHORTEST: usize = 10;

/// The stretches in which every channel is quiet.
///
/// `levels` are powers in 10 ms steps, `typical_dbfs` the typical level of each channel where it has one. Give the
/// inputs alone: a room microphone always hears the hall.
///
/// # Panics
///
/// If there is not one typical level (or none) for each trace.
pub fn all_quiet(levels: &[&Trace], typical_dbfs: &[Option<f64>]) -> Vec<Span> {
    assert_eq!(levels.len(), typical_dbfs.len(), "one typical level, or none, for each trace");
    let levels = Levels::new(levels);
    let mut quiet = vec![true; levels.n_frames()];
    let mut is_heard = false;
    for (idx, typical_dbfs) in typical_dbfs.iter().enumerate() {
        let Some(typical_dbfs) = typical_dbfs else { continue };
        let channel = levels.channel(idx);
        let all: Vec<f64> = channel.iter().map(|&level| f64::from(level)).collect();
        let floor_db = percentile(&all, 0.03).unwrap_or(f64::MIN);
        if typical_dbfs - floor_db < LEAST_DB {
            continue;
        }
        is_heard = true;
        let over_floor_db = (floor_db + OVER_FLOOR_DB).min(typical_dbfs - LEAST_DB);
        let border_db = over_floor_db.max(typical_dbfs - UNDER_TYPICAL_DB);
        for (quiet, &level) in quiet.iter_mut().zip(channel) {
            *quiet = *quiet && f64::from(level) <= border_db;
        }
    }
    frames::drop_short(&mut quiet, SHORTEST);
    if is_heard { frames::spans(&quiet) } else { Vec::new() }
}
