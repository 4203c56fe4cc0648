//! Gated channels drawn by seed, and how well their gates are read back.
//!
//! Takes a seed, gives agreement and counts. Never sets a bar.

use deskside::demo::source::Instrument;
use deskside::relate::gate::{self, Gating};
use deskside::relate::reduction::course;
use deskside::unit::Unmeasured;

use super::press::RATE;
use super::strip::{between, channel, equaliser, level_dbfs};
use crate::support::paths::delayed;
use crate::support::signals::{Rng, amplitude};
use crate::support::taps::{BLOCK, through};

/// Who is gated, and who leaks.
const PLAYERS: [Instrument; 4] =
    [Instrument::SnareTop, Instrument::RackTom, Instrument::Kick, Instrument::Host];
const OTHERS: [Instrument; 3] =
    [Instrument::HiHat, Instrument::ElectricGuitar, Instrument::LeadVoice];

/// How a gate is set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    /// Above the spill, with hold and release.
    Well,
    /// Within the spill, without hold.
    Fluttering,
    /// Too high, without hold: it cuts what still rings.
    Cutting,
    /// An expander.
    Expander,
}

/// A gate: its detector is an envelope of peaks.
pub(super) struct Gate {
    pub(super) threshold_dbfs: f64,
    pub(super) hysteresis_db: f64,
    pub(super) hold_s: f64,
    pub(super) release_s: f64,
    pub(super) range_db: f64,
    /// Of an expander.
    pub(super) ratio: Option<f64>,
}

impl Gate {
    /// Gain of every sample, in dB.
    pub(super) fn gains_db(&self, heard: &[f32]) -> Vec<f64> {
        let keep = |time_s: f64| (-1.0 / (time_s * RATE)).exp();
        let (attack, release, fall) = (keep(0.001), keep(self.release_s), keep(0.010));
        let (mut envelope, mut now_db, mut held) = (0.0f64, -self.range_db, 0usize);
        let mut is_open = false;
        heard
            .iter()
            .map(|&x| {
                envelope = f64::from(x.abs()).max(fall * envelope);
                let over_db = 20.0 * (envelope + 1e-7).log10() - self.threshold_dbfs;
                if over_db > 0.0 {
                    (is_open, held) = (true, (self.hold_s * RATE) as usize);
                } else if over_db < -self.hysteresis_db {
                    is_open &= held > 0;
                    held = held.saturating_sub(1);
                }
                let goal_db = match self.ratio {
                    Some(ratio) => (over_db.min(0.0) * (ratio - 1.0)).max(-self.range_db),
                    None if is_open => 0.0,
                    None => -self.range_db,
                };
                let keep = if goal_db > now_db { attack } else { release };
                now_db = keep * now_db + (1.0 - keep) * goal_db;
                now_db
            })
            .collect()
    }
}

/// What was read of a gated channel.
pub(crate) struct Score {
    pub(crate) kind: Kind,
    pub(crate) player: Instrument,
    pub(crate) found: Result<Gating, Unmeasured>,
    /// Share of the blocks whose state is right.
    pub(crate) agreement: f64,
    pub(crate) true_depth_db: f64,
    pub(crate) n_true_flutter: usize,
    pub(crate) n_true_cuts: usize,
}

/// A gated channel by seed, read back.
pub(crate) fn score(seed: u64) -> Score {
    let mut rng = Rng::new(0x6a_7e00 + seed);
    let player = PLAYERS[(seed % 4) as usize];
    let kind =
        [Kind::Well, Kind::Fluttering, Kind::Cutting, Kind::Expander][(seed / 4 % 4) as usize];
    let spill_db = [-26.0, -20.0, -14.0][(rng.bits() % 3) as usize];
    let heard = channel(&mut rng, player, &OTHERS, spill_db);
    let gate = set(&mut rng, kind, level_dbfs(&heard.own, 0.9), level_dbfs(&heard.spill, 0.95));
    let gains_db = gate.gains_db(&heard.raw);
    let make_up_db = -3.0 + 9.0 * rng.even();
    let both = heard.raw.iter().zip(&gains_db);
    let gated: Vec<f32> =
        both.map(|(x, gain_db)| (f64::from(*x) * amplitude(gain_db + make_up_db)) as f32).collect();
    let behind = if rng.even() < 0.7 { equaliser(&mut rng) } else { Vec::new() };
    let processed = delayed(&through(&gated, &behind), between(&mut rng, 1.0, 240.0), 1.0);
    let found = course(&heard.raw, &processed, 48_000).and_then(|found| gate::measure(&found));
    let truth_db: Vec<f64> = gains_db
        .chunks_exact(BLOCK)
        .map(|block| block.iter().sum::<f64>() / BLOCK as f64)
        .collect();
    let states = found.as_ref().map_or(&[][..], |found| &found.is_open);
    let right = states.iter().zip(&truth_db).filter(|(is_open, db)| **is_open == (**db > -3.0));
    let mut sorted_db = truth_db.clone();
    sorted_db.sort_by(f64::total_cmp);
    Score {
        kind,
        player,
        agreement: right.count() as f64 / states.len().max(1) as f64,
        true_depth_db: -sorted_db[sorted_db.len() * 3 / 100],
        n_true_flutter: flutter(&truth_db),
        n_true_cuts: cuts(&truth_db, &heard.raw),
        found,
    }
}

fn set(rng: &mut Rng, kind: Kind, own_dbfs: f64, spill_dbfs: f64) -> Gate {
    let range_db = [15.0, 30.0, 60.0][(rng.bits() % 3) as usize];
    let usual = Gate {
        threshold_dbfs: (spill_dbfs + 9.0).min(own_dbfs),
        hysteresis_db: 4.0,
        hold_s: 0.15,
        release_s: 0.15,
        range_db,
        ratio: None,
    };
    match kind {
        Kind::Well => usual,
        Kind::Fluttering => Gate {
            threshold_dbfs: spill_dbfs + 4.0,
            hysteresis_db: 0.0,
            hold_s: 0.002,
            release_s: 0.010,
            ..usual
        },
        Kind::Cutting => Gate {
            threshold_dbfs: own_dbfs + 2.0,
            hysteresis_db: 3.0,
            hold_s: 0.020,
            release_s: 0.030,
            ..usual
        },
        Kind::Expander => Gate { hysteresis_db: 0.0, hold_s: 0.0, ratio: Some(2.0), ..usual },
    }
}

/// How often it falls by 10 dB and is up again after 6 to 80 ms.
fn flutter(gains_db: &[f64]) -> usize {
    let (mut is_open, mut shut_at, mut n) = (false, None, 0);
    for (at, gain_db) in gains_db.iter().enumerate() {
        if is_open && *gain_db <= -10.0 {
            (is_open, shut_at) = (false, Some(at));
        } else if !is_open && *gain_db > -3.0 {
            is_open = true;
            n += usize::from(shut_at.is_some_and(|shut| (3..40).contains(&(at - shut))));
        }
    }
    n
}

/// How often it falls by 10 dB where the envelope of the peaks has fallen by less than 18 dB since it opened and stands more than 10 dB
/// above its own 25th percentile.
fn cuts(gains_db: &[f64], raw: &[f32]) -> usize {
    let fall_db = 20.0 * std::f64::consts::LOG10_E * BLOCK as f64 / RATE / 0.010;
    let mut held_dbfs = f64::NEG_INFINITY;
    let envelope_dbfs: Vec<f64> = raw
        .chunks_exact(BLOCK)
        .map(|block| {
            let peak = block.iter().fold(1e-7f64, |peak, x| peak.max(f64::from(x.abs())));
            held_dbfs = (20.0 * peak.log10()).max(held_dbfs - fall_db);
            held_dbfs
        })
        .collect();
    let mut sorted_dbfs = envelope_dbfs.clone();
    sorted_dbfs.sort_by(f64::total_cmp);
    let quiet_dbfs = sorted_dbfs[sorted_dbfs.len() / 4];
    let (mut top_dbfs, mut n) = (None::<f64>, 0);
    for (gain_db, level_dbfs) in gains_db.iter().zip(&envelope_dbfs) {
        match top_dbfs {
            Some(top) if *gain_db <= -10.0 => {
                n += usize::from(*level_dbfs > top - 18.0 && *level_dbfs > quiet_dbfs + 10.0);
                top_dbfs = None;
            }
            Some(top) => top_dbfs = Some(top.max(*level_dbfs)),
            None if *gain_db > -3.0 => top_dbfs = Some(*level_dbfs),
            None => {}
        }
    }
    n
}
