//! What turns the levels of a room microphone into sound levels, as the note of the session states it.
//!
//! Takes the note and, where a calibrator's tone was recorded, that tone. Gives none where anything speaks against it: there
//! is no sound level without a calibration that holds.

use super::samples;
use crate::audio::{Takes, TrustHeader};
use crate::dsp::percentile::percentile;
use crate::measure::sound_level::Calibration;
use crate::session::note::{self, LevelControl};
use crate::session::{Role, Session, SessionChannel};

/// Levels of a tone are looked at in pieces this long, and may differ by so much, in dB.
const PIECE_S: f64 = 0.1;
const STEADY_DB: f64 = 1.0;

/// Shortest tone, in seconds.
const NEEDS_S: f64 = 1.0;

/// Longest stretch that is read, in seconds.
const MOST_S: f64 = 120.0;

/// Calibration of a channel; `None` where none was stated. The sentence says why a stated one does not hold.
pub(super) fn calibration(
    session: &Session,
    channel: &SessionChannel,
    trust: TrustHeader,
) -> Option<Result<Calibration, String>> {
    let stated = channel.note.calibration.as_ref().filter(|_| channel.role == Role::Room)?;
    let void = |why: &str| format!("`{}`: no sound level: {why}", channel.name);
    if stated.gain_touched == Some(true) {
        return Some(Err(void("the gain was touched after it was calibrated")));
    }
    match channel.note.level_control {
        Some(LevelControl::Off) => {}
        Some(LevelControl::On) => return Some(Err(void("the recorder sets its level by itself"))),
        _ => {
            return Some(Err(void(
                "whether the recorder sets its level by itself is not stated as `off`",
            )));
        }
    }
    let found = match (stated.dbfs_to_db_spl, stated.level_db_spl) {
        (Some(step_db), _) => Calibration::new(step_db),
        (None, Some(tone_db)) => match tone_dbfs(session, channel, stated, trust) {
            Ok(recorded_dbfs) => Calibration::from_tone(tone_db, recorded_dbfs),
            Err(why) => return Some(Err(void(&why))),
        },
        (None, None) => None,
    };
    Some(found.ok_or_else(|| void("no microphone could have this calibration")))
}

/// Level at which the tone was recorded.
fn tone_dbfs(
    session: &Session,
    channel: &SessionChannel,
    stated: &note::Calibration,
    trust: TrustHeader,
) -> Result<f64, String> {
    let own = || session.takes[channel.take_idx].parts.clone();
    let parts = stated.file.as_ref().map_or_else(own, |name| vec![session.folder.join(name)]);
    let plane = if stated.file.is_none() { channel.plane_idx } else { 0 };
    let mut takes = Takes::new(parts, trust).map_err(|error| error.cause.clone())?;
    let rate_hz = takes.rate_hz();
    let start_s = stated.start_s.unwrap_or(0.0);
    let length_s = stated.end_s.map_or(MOST_S, |end_s| (end_s - start_s).min(MOST_S));
    takes.seek(samples(start_s, rate_hz) as u64).map_err(|error| error.cause.clone())?;
    let mut planes = vec![Vec::new(); takes.n_channels()];
    let n_read =
        takes.read(samples(length_s, rate_hz), &mut planes).map_err(|error| error.cause.clone())?;
    if n_read < samples(NEEDS_S, rate_hz) {
        return Err("the calibrator's tone is shorter than a second".to_owned());
    }
    let pieces = planes[plane].chunks_exact(samples(PIECE_S, rate_hz));
    let levels_dbfs: Vec<f64> =
        pieces.map(|piece| 10.0 * mean_square(piece).max(1e-20).log10()).collect();
    let spread = |low: f64, high: f64| {
        Some(percentile(&levels_dbfs, high)? - percentile(&levels_dbfs, low)?)
    };
    if spread(0.05, 0.95).is_none_or(|spread_db| spread_db > STEADY_DB) {
        return Err("the calibrator's tone is not steady".to_owned());
    }
    Ok(10.0 * mean_square(&planes[plane]).log10())
}

#[expect(clippy::cast_precision_loss, reason = "two minutes of samples at most")]
fn mean_square(samples: &[f32]) -> f64 {
    let sum: f64 = samples.iter().map(|&sample| f64::from(sample).powi(2)).sum();
    sum / samples.len().max(1) as f64
}
