//! Compressor and gate of the desk.
//!
//! Takes samples, changes them in place, and says how far it turned down. Never looks ahead.

use crate::demo::scene::{Compressor, Gate};

/// Quieter than this is silence to a detector, in dBFS.
const FLOOR_DBFS: f64 = -120.0;

/// How long a gate takes to open, in seconds (common practice for drums).
const GATE_ATTACK_S: f64 = 0.0005;

/// Gain of a compressor at a steady level, in dB, 0 or below; make-up gain not included.
///
/// # Formula
///
/// ```text
/// 0                                     2(x - T) < -W
/// (1/R - 1)(x - T + W/2)²/(2W)          2|x - T| <= W
/// (1/R - 1)(x - T)                      2(x - T) > W
/// ```
///
/// where `x` is the level, `T` the threshold, `W` the width of the knee (all dB), `R` the ratio (Giannoulis, Massberg & Reiss,
/// "Digital dynamic range compressor design", JAES 60(6), 2012, pp. 399-408).
pub fn static_gain_db(settings: &Compressor, level_dbfs: f64) -> f64 {
    let over_db = level_dbfs - settings.threshold_dbfs;
    let slope = 1.0 / settings.ratio - 1.0;
    let knee_db = settings.knee_db;
    if 2.0 * over_db <= -knee_db {
        0.0
    } else if 2.0 * over_db < knee_db {
        slope * (over_db + knee_db / 2.0).powi(2) / (2.0 * knee_db)
    } else {
        slope * over_db
    }
}

/// A feed-forward compressor with a detector in the log domain and branching smoothing (same paper, fig. 7c and eq. 16).
#[derive(Clone, Debug)]
pub struct Squeeze {
    settings: Compressor,
    attack: f64,
    release: f64,
    reduction_db: f64,
}

impl Squeeze {
    /// A compressor at rest.
    pub fn new(settings: Compressor, rate_hz: f64) -> Self {
        let step = |time_s: f64| (-1.0 / (time_s * rate_hz)).exp();
        Self {
            attack: step(settings.attack_s),
            release: step(settings.release_s),
            settings,
            reduction_db: 0.0,
        }
    }

    /// The next samples, in place; gain reduction is added to `reductions_db` every `every` samples (the mean over them).
    #[expect(clippy::cast_possible_truncation, reason = "a sample in single precision")]
    pub fn run(&mut self, samples: &mut [f32], every: usize, reductions_db: &mut Vec<f32>) {
        for block in samples.chunks_mut(every) {
            let mut sum_db = 0.0;
            for x in block.iter_mut() {
                let level_dbfs = 20.0 * f64::from(x.abs()).max(1e-6).log10();
                let wanted_db = -static_gain_db(&self.settings, level_dbfs.max(FLOOR_DBFS));
                let keep = if wanted_db > self.reduction_db { self.attack } else { self.release };
                self.reduction_db = keep * self.reduction_db + (1.0 - keep) * wanted_db;
                let gain_db = self.settings.makeup_db - self.reduction_db;
                *x *= 10_f64.powf(gain_db / 20.0) as f32;
                sum_db += self.reduction_db;
            }
            reductions_db.push((sum_db / block.len() as f64) as f32);
        }
    }
}

/// A gate: open while the level is above its threshold and for a while after.
#[derive(Clone, Debug)]
pub(super) struct Gating {
    threshold: f32,
    closed: f64,
    attack: f64,
    release: f64,
    hold: u64,
    open_for: u64,
    gain: f64,
}

impl Gating {
    /// A closed gate.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "an amplitude and a short time in samples"
    )]
    pub(super) fn new(settings: &Gate, rate_hz: f64) -> Self {
        let closed = 10_f64.powf(-settings.range_db.abs() / 20.0);
        Self {
            threshold: 10_f64.powf(settings.threshold_dbfs / 20.0) as f32,
            closed,
            attack: (-1.0 / (GATE_ATTACK_S * rate_hz)).exp(),
            release: (-1.0 / (settings.release_s * rate_hz)).exp(),
            hold: (settings.hold_s * rate_hz).round().max(0.0) as u64,
            open_for: 0,
            gain: closed,
        }
    }

    #[expect(clippy::cast_possible_truncation, reason = "a sample in single precision")]
    pub(super) fn run(&mut self, samples: &mut [f32]) {
        for x in samples {
            self.open_for =
                if x.abs() >= self.threshold { self.hold } else { self.open_for.saturating_sub(1) };
            let (goal, keep) =
                if self.open_for > 0 { (1.0, self.attack) } else { (self.closed, self.release) };
            self.gain = keep * self.gain + (1.0 - keep) * goal;
            *x *= self.gain as f32;
        }
    }
}
