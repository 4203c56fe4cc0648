//! A compressor as arithmetic: detector, static curve, attack and release.
//!
//! Takes a side chain and settings, gives gain reduction. Several designs, so that a compressor of a desk is like one of them.
//! Source: D. Giannoulis, M. Massberg, J. D. Reiss, "Digital dynamic range compressor design", JAES 60(6), 2012.

use std::f64::consts::{LN_10, TAU};

/// Quieter than this is silence to a detector, in dBFS.
const FLOOR_DBFS: f64 = -140.0;

/// Most that a feed-back compressor is asked for at once, in dB.
const MOST_DB: f64 = 60.0;

/// What the level is taken from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Detector {
    /// The size of a sample.
    Peak,
    /// A mean square with a time constant in seconds.
    Rms(f64),
}

/// How attack and release follow.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Ballistics {
    /// One pole on the gain in dB, attack or release (their fig. 7c, eq. 16).
    Branching,
    /// A release, then an attack behind it (eq. 17).
    Decoupled,
    /// The same detector's level follows feed-back: from behind the compressor.
    FeedBack,
}

/// A design.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Design {
    pub(super) detector: Detector,
    pub(super) ballistics: Ballistics,
    /// Whether the detector hears the signal behind the equaliser.
    pub(super) is_filtered: bool,
}

/// Settings of a design.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Settings {
    pub(super) threshold_dbfs: f64,
    pub(super) ratio: f64,
    pub(super) knee_db: f64,
    pub(super) attack_s: f64,
    pub(super) release_s: f64,
}

/// Gain reduction at a steady level, in dB.
///
/// # Formula
///
/// ```text
/// 0                           2 o <= -W
/// S (o + W/2)²/(2W)           |2 o| < W
/// S o                         2 o >= W
/// ```
///
/// where `o` is the level over the threshold and `W` the width of the knee (all dB), `S = 1 - 1/R` with the ratio `R`; with the
/// detector behind the compressor `S = R - 1`.
pub fn static_reduction_db(over_db: f64, knee_db: f64, slope: f64) -> f64 {
    if 2.0 * over_db <= -knee_db {
        0.0
    } else if 2.0 * over_db < knee_db {
        slope * (over_db + 0.5 * knee_db).powi(2) / (2.0 * knee_db)
    } else {
        slope * over_db
    }
}

/// Levels of a detector, in dBFS.
#[expect(
    clippy::cast_possible_truncation,
    reason = "levels in single precision are exact to 1e-5 dB"
)]
pub(super) fn levels_dbfs(side_chain: &[f64], detector: Detector, rate_hz: f64) -> Vec<f32> {
    let level = |power: f64| (10.0 * power.max(1e-14).log10()).max(FLOOR_DBFS) as f32;
    match detector {
        Detector::Peak => side_chain.iter().map(|x| level(x * x)).collect(),
        Detector::Rms(time_s) => {
            let rise = -(-1.0 / (time_s * rate_hz)).exp_m1();
            let mut mean = 0.0;
            let step = |x: &f64| {
                mean += rise * (x * x - mean);
                level(mean)
            };
            side_chain.iter().map(step).collect()
        }
    }
}

/// A compressor that runs.
#[derive(Clone, Debug)]
pub(super) struct Runner {
    settings: Settings,
    ballistics: Ballistics,
    attack: f64,
    release: f64,
    slope: f64,
    held_db: f64,
    now_db: f64,
}

impl Runner {
    /// A compressor at rest.
    pub(super) fn new(settings: &Settings, ballistics: Ballistics, rate_hz: f64) -> Self {
        let keep = |time_s: f64| (-1.0 / (time_s * rate_hz)).exp();
        let is_back = ballistics == Ballistics::FeedBack;
        let ratio = settings.ratio;
        Self {
            settings: *settings,
            ballistics,
            attack: keep(settings.attack_s),
            release: keep(settings.release_s),
            slope: if is_back { ratio - 1.0 } else { 1.0 - 1.0 / ratio },
            held_db: 0.0,
            now_db: 0.0,
        }
    }

    /// Gain reduction after a sample of that level, in dB.
    #[inline]
    pub(super) fn step(&mut self, level_dbfs: f32) -> f64 {
        let over_db = f64::from(level_dbfs) - self.settings.threshold_dbfs;
        let wanted = |over_db: f64| static_reduction_db(over_db, self.settings.knee_db, self.slope);
        match self.ballistics {
            Ballistics::Branching => self.branch(wanted(over_db)),
            Ballistics::FeedBack => self.branch(wanted(over_db - self.now_db).min(MOST_DB)),
            Ballistics::Decoupled => {
                let wanted_db = wanted(over_db);
                let released_db = wanted_db + self.release * (self.held_db - wanted_db);
                self.held_db = wanted_db.max(released_db);
                self.now_db = self.held_db + self.attack * (self.now_db - self.held_db);
            }
        }
        self.now_db
    }

    #[inline]
    fn branch(&mut self, wanted_db: f64) {
        let keep = if wanted_db > self.now_db { self.attack } else { self.release };
        self.now_db = wanted_db + keep * (self.now_db - wanted_db);
    }
}

/// What a compressor does with plain tones: what can be compared between designs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Effect {
    pub(super) threshold_dbfs: f64,
    pub(super) ratio: f64,
    pub(super) attack_s: f64,
    pub(super) release_s: f64,
}

impl Effect {
    /// Level of a steady sine that is turned down by 1 dB; ratio from the levels that are turned down by 2 and 6 dB; 63 % times
    /// of a step from 10 dB under that level to 10 dB over it and back.
    pub(super) fn of(design: &Design, settings: &Settings) -> Option<Self> {
        let tone = Tone::new(design, settings);
        let steady = |wanted_db: f64| {
            let (mut low, mut high) = (-30.0, 60.0);
            for _ in 0..14 {
                let middle = 0.5 * (low + high);
                if tone.settled_db(design, settings, middle) < wanted_db {
                    low = middle;
                } else {
                    high = middle;
                }
            }
            (high < 59.0).then_some(settings.threshold_dbfs + 0.5 * (low + high))
        };
        let threshold_dbfs = steady(1.0)?;
        let (two, six) = (steady(2.0)?, steady(6.0)?);
        let slope = (4.0 / (six - two)).min(0.999);
        let (attack_s, release_s) = step_s(design, settings, threshold_dbfs)?;
        Some(Self { threshold_dbfs, ratio: 1.0 / (1.0 - slope), attack_s, release_s })
    }
}

/// Rate and frequency of the tones.
const TONE_RATE_HZ: f64 = 48_000.0;
const TONE_HZ: f64 = 997.0;

/// A sine whose level in dBFS is given for each sample.
fn tone(n: usize, level_dbfs: impl Fn(usize) -> f64) -> Vec<f64> {
    #[expect(clippy::cast_precision_loss, reason = "a few seconds of samples")]
    let sample = |at: usize| {
        let amplitude = 2f64.sqrt() * (level_dbfs(at) * LN_10 / 20.0).exp();
        amplitude * (TAU * TONE_HZ * at as f64 / TONE_RATE_HZ).sin()
    };
    (0..n).map(sample).collect()
}

/// Levels that a detector gives for a steady sine at the threshold, long enough to settle.
struct Tone {
    levels_dbfs: Vec<f32>,
}

impl Tone {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a second at most")]
    fn new(design: &Design, settings: &Settings) -> Self {
        let slowest_s = settings.attack_s.max(settings.release_s);
        let n = (TONE_RATE_HZ * (0.05 + 3.0 * slowest_s).min(1.0)) as usize;
        let sine = tone(n, |_| settings.threshold_dbfs);
        Self { levels_dbfs: levels_dbfs(&sine, design.detector, TONE_RATE_HZ) }
    }

    /// Mean reduction of its last fifth, if it is louder. A threshold that is lower by as much stands for that.
    #[expect(clippy::cast_precision_loss, reason = "a second at most")]
    fn settled_db(&self, design: &Design, settings: &Settings, louder_db: f64) -> f64 {
        let (n, mut sum_db) = (self.levels_dbfs.len(), 0.0);
        let n_last = n / 5;
        let threshold_dbfs = settings.threshold_dbfs - louder_db;
        let lower = Settings { threshold_dbfs, ..*settings };
        let mut runner = Runner::new(&lower, design.ballistics, TONE_RATE_HZ);
        for (at, &level) in self.levels_dbfs.iter().enumerate() {
            let db = runner.step(level);
            sum_db += if at >= n - n_last { db } else { 0.0 };
        }
        sum_db / n_last as f64
    }
}

/// 63 % times of the step up and the step down.
fn step_s(design: &Design, settings: &Settings, level_dbfs: f64) -> Option<(f64, f64)> {
    const UP: usize = 24_000;
    const DOWN: usize = 96_000;
    const END: usize = 240_000;
    const SMOOTH: usize = 96;
    let is_up = |at: usize| (UP..DOWN).contains(&at);
    let sine = tone(END, |at| level_dbfs + if is_up(at) { 10.0 } else { -10.0 });
    let levels = levels_dbfs(&sine, design.detector, TONE_RATE_HZ);
    let mut sums = vec![0.0];
    let mut runner = Runner::new(settings, design.ballistics, TONE_RATE_HZ);
    for (at, &level) in levels.iter().enumerate() {
        sums.push(sums[at] + runner.step(level));
    }
    #[expect(clippy::cast_precision_loss, reason = "a few samples")]
    let mean = |at: usize| (sums[at + SMOOTH / 2] - sums[at - SMOOTH / 2]) / SMOOTH as f64;
    let (low, high) = (mean(UP - SMOOTH), mean(DOWN - SMOOTH));
    let border_up = low + 0.632 * (high - low);
    let border_down = high - 0.632 * (high - low);
    let up = (UP..DOWN - SMOOTH).find(|&at| mean(at) >= border_up)?;
    let down = (DOWN..END - SMOOTH).find(|&at| mean(at) <= border_down)?;
    #[expect(clippy::cast_precision_loss, reason = "a few seconds of samples")]
    let in_s = |n: usize| n as f64 / TONE_RATE_HZ;
    Some((in_s(up - UP), in_s(down - DOWN)))
}
