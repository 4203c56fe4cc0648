//! A compressor for the bench: its detector before or behind it, on peaks or on the mean square, with the times of attack and release
//! on the level, on the gain, or one behind the other.
//!
//! Built from the static curve and the smoothings of D. Giannoulis, M. Massberg, J. D. Reiss, "Digital dynamic range compressor
//! design", JAES 60(6), 2012. What it does with plain tones is found by running it on them.

use std::f64::consts::TAU;

use crate::support::signals::amplitude;

pub(crate) const RATE: f64 = 48_000.0;

/// Where the detector listens.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Listens {
    Before,
    Behind,
}

/// What the attack and the release act on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Smooths {
    /// The level, as an amplitude.
    Level,
    /// The gain in dB, by one or the other time.
    Gain,
    /// The gain in dB, by the release and then by the attack.
    InTurn,
}

/// A compressor and its settings.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Press {
    pub(crate) listens: Listens,
    /// Time constant of the mean square; none for peaks.
    pub(crate) mean_s: Option<f64>,
    pub(crate) smooths: Smooths,
    pub(crate) threshold_dbfs: f64,
    pub(crate) ratio: f64,
    pub(crate) knee_db: f64,
    pub(crate) attack_s: f64,
    pub(crate) release_s: f64,
}

/// What a compressor does with plain tones.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Plain {
    /// Level of a sine that is turned down by 1 dB.
    pub(crate) threshold_dbfs: f64,
    /// Ratio between the levels that are turned down by 2 and by 6 dB.
    pub(crate) ratio: f64,
    /// 63 % times of a step from 10 dB under the threshold to 10 dB over it, and back.
    pub(crate) attack_s: f64,
    pub(crate) release_s: f64,
}

impl Press {
    /// Gain reduction of every sample, in dB.
    pub(crate) fn reductions_db(&self, heard: impl Iterator<Item = f64>) -> Vec<f64> {
        let keep = |time_s: f64| (-1.0 / (time_s * RATE)).exp();
        let (attack, release) = (keep(self.attack_s), keep(self.release_s));
        let mean_keep = self.mean_s.map_or(0.0, keep);
        let (mut mean, mut envelope, mut held_db, mut now_db) = (0.0, 0.0f64, 0.0f64, 0.0f64);
        let step = |x: f64| {
            let x = if self.listens == Listens::Behind { x * amplitude(-now_db) } else { x };
            mean = mean_keep * mean + (1.0 - mean_keep) * x * x;
            let size: f64 = mean.sqrt();
            if self.smooths == Smooths::Level {
                let keep = if size > envelope { attack } else { release };
                envelope = keep * envelope + (1.0 - keep) * size;
                now_db = self.wanted_db(envelope);
                return now_db;
            }
            let wanted_db = self.wanted_db(size);
            if self.smooths == Smooths::InTurn {
                held_db = wanted_db.max(release * held_db + (1.0 - release) * wanted_db);
                now_db = attack * now_db + (1.0 - attack) * held_db;
            } else {
                let keep = if wanted_db > now_db { attack } else { release };
                now_db = keep * now_db + (1.0 - keep) * wanted_db;
            }
            now_db
        };
        heard.map(step).collect()
    }

    /// Gain reduction that belongs to a level: output is `T + (x - T)/R` above the knee (equation 4), and behind the compressor
    /// the same turned round.
    fn wanted_db(&self, size: f64) -> f64 {
        let over_db = 20.0 * (size + 1e-7).log10() - self.threshold_dbfs;
        let (knee_db, ratio) = (self.knee_db, self.ratio);
        let into_db = if over_db >= knee_db / 2.0 {
            over_db
        } else if over_db > -knee_db / 2.0 {
            (over_db + knee_db / 2.0).powi(2) / (2.0 * knee_db)
        } else {
            0.0
        };
        match self.listens {
            Listens::Before => into_db - into_db / ratio,
            Listens::Behind => (into_db * (ratio - 1.0)).min(60.0),
        }
    }

    /// What it does with plain tones.
    pub(crate) fn plain(&self) -> Plain {
        let level_for = |wanted_db: f64| {
            let (mut low, mut high) = (self.threshold_dbfs - 30.0, self.threshold_dbfs + 60.0);
            for _ in 0..14 {
                let middle = 0.5 * (low + high);
                let all = self.reductions_db(tone(72_000, |_| middle));
                let mean = all[62_400..].iter().sum::<f64>() / 9_600.0;
                if mean < wanted_db { low = middle } else { high = middle }
            }
            0.5 * (low + high)
        };
        let threshold_dbfs = level_for(1.0);
        let ratio = 1.0 / (1.0 - 4.0 / (level_for(6.0) - level_for(2.0)));
        const UP: usize = 24_000;
        const DOWN: usize = 120_000;
        const END: usize = 312_000;
        let is_up = |at: usize| (UP..DOWN).contains(&at);
        let level = |at: usize| threshold_dbfs + if is_up(at) { 10.0 } else { -10.0 };
        let all = self.reductions_db(tone(END, level));
        let mean = |at: usize| all[at - 48..at + 48].iter().sum::<f64>() / 96.0;
        let (low, high) = (mean(UP - 100), mean(DOWN - 100));
        let part = 0.632 * (high - low);
        let up = (UP..DOWN - 100).find(|&at| mean(at) >= low + part);
        let down = (DOWN..END - 100).find(|&at| mean(at) <= high - part);
        let time_s =
            |at: Option<usize>, from: usize| at.map_or(4.0, |at| (at - from) as f64 / RATE);
        Plain { threshold_dbfs, ratio, attack_s: time_s(up, UP), release_s: time_s(down, DOWN) }
    }
}

/// A sine of 1 kHz whose level is given for each sample.
fn tone(n: usize, level_dbfs: impl Fn(usize) -> f64) -> impl Iterator<Item = f64> {
    let at = move |at: usize| {
        2f64.sqrt() * amplitude(level_dbfs(at)) * (TAU * 997.0 * at as f64 / RATE).sin()
    };
    (0..n).map(at)
}
