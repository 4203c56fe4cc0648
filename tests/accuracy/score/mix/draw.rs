//! Desks drawn by seed for a stage: levels, pans, filters, compressors, switches and fader moves as operators set them.
//!
//! Takes the truth of a stage, gives a [`Desk`]. Never looks at what a review tells.

use serde::Deserialize;

use super::desk::{Desk, Kind};
use super::strip::Strip;
use crate::support::squeeze::Squeeze;

/// How loud a channel is at its loudest in the mix, before it is drawn up or down, in dBFS.
const LOUD_DBFS: f64 = -26.0;

/// The stage's length without its ends, in which things are moved, in seconds.
const ENDS_S: f64 = 4.0;

/// A channel of the stage.
#[derive(Clone, Debug, Deserialize)]
pub(crate) struct OnStage {
    pub(crate) name: String,
    pub(crate) file: String,
    pub(crate) role: String,
    pub(crate) tap: String,
    pub(crate) own_loud_dbfs: Option<f64>,
}

/// Even numbers by a linear congruence (D. E. Knuth, "The Art of Computer Programming" 2, 3.3.4, line 26).
struct Dice(u64);

impl Dice {
    fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        low + (high - low) * (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    fn happens(&mut self, share: f64) -> bool {
        self.between(0.0, 1.0) < share
    }
}

/// The desk of a kind for a stage.
pub(crate) fn desk(stage: &[OnStage], length_s: f64, kind: Kind, seed: u64) -> Desk {
    let mut dice = Dice(seed);
    (0..8).for_each(|_| {
        dice.between(0.0, 1.0);
    });
    let mut strips: Vec<Strip> = Vec::new();
    for channel in stage.iter().filter(|channel| channel.tap == "raw") {
        let Some(loud_dbfs) = channel.own_loud_dbfs else { continue };
        let drawn = strip(channel, loud_dbfs, length_s, &mut dice);
        // Both sides of a stereo channel share a strip.
        let twin = channel.name.strip_suffix(" R").and_then(|stem| {
            strips.iter().find(|other| other.name.strip_suffix(" L") == Some(stem))
        });
        let strip = twin.map_or(drawn, |twin| Strip {
            name: channel.name.clone(),
            file: channel.file.clone(),
            role: channel.role.clone(),
            pan: -twin.pan,
            ..twin.clone()
        });
        strips.push(strip);
    }
    if kind == Kind::Hard {
        // A part that plays much and is no voice was not recorded.
        let lost = strips.iter().position(|strip| {
            matches!(
                strip.role.as_str(),
                "electric-guitar" | "acoustic-guitar" | "strings" | "brass"
            )
        });
        if let Some(lost) = lost {
            strips[lost].is_recorded = false;
        }
    }
    Desk { kind, strips, length_s }
}

fn strip(channel: &OnStage, loud_dbfs: f64, length_s: f64, dice: &mut Dice) -> Strip {
    let role = channel.role.as_str();
    let is_low = matches!(role, "kick" | "bass");
    let is_voice = role.ends_with("vocal") || role == "speech";
    let is_stereo = channel.name.ends_with(" L") || channel.name.ends_with(" R");
    let louder_db = if is_voice { 3.0 } else { 0.0 };
    let gain_db = LOUD_DBFS + louder_db - loud_dbfs + dice.between(-5.0, 5.0);
    let pan = match (is_stereo, is_low || role == "lead-vocal" || role.starts_with("snare")) {
        (true, _) => -dice.between(0.3, 0.9),
        (_, true) => 0.0,
        _ => dice.between(-0.7, 0.7),
    };
    let high_pass_hz =
        (!is_low && dice.happens(0.6)).then(|| 70.0 * 2f64.powf(dice.between(0.0, 1.6)));
    let bell = dice.happens(0.5).then(|| {
        let up_or_down = if dice.happens(0.5) { 1.0 } else { -1.0 };
        let height_db = up_or_down * dice.between(3.0, 6.0);
        [200.0 * 2f64.powf(dice.between(0.0, 4.5)), height_db, dice.between(0.7, 1.5)]
    });
    let squeeze = dice.happens(0.35).then(|| squeeze(loud_dbfs, dice));
    let mut edges_s = Vec::new();
    if dice.happens(0.7) {
        let mut at_s = ENDS_S + dice.between(0.0, 12.0);
        for _ in 0..2 {
            let back_s = at_s + dice.between(3.0, 12.0);
            if back_s > length_s - ENDS_S {
                break;
            }
            edges_s.extend([at_s, back_s]);
            at_s = back_s + dice.between(8.0, 30.0);
        }
    }
    let mut moves = Vec::new();
    for middle in [0.25, 0.75] {
        if dice.happens(0.35) {
            let start_s = length_s * (middle + dice.between(-0.15, 0.15));
            let up_or_down = if dice.happens(0.5) { 1.0 } else { -1.0 };
            moves.push([start_s, dice.between(0.3, 2.5), up_or_down * dice.between(2.0, 5.0)]);
        }
    }
    Strip {
        name: channel.name.clone(),
        file: channel.file.clone(),
        role: channel.role.clone(),
        gain_db,
        pan,
        high_pass_hz,
        bell,
        squeeze,
        is_inverted: dice.happens(0.1),
        edges_s,
        moves,
        send_db: is_voice.then(|| dice.between(-14.0, -8.0)),
        is_recorded: true,
    }
}

fn squeeze(loud_dbfs: f64, dice: &mut Dice) -> Squeeze {
    Squeeze {
        threshold_dbfs: loud_dbfs - dice.between(4.0, 12.0),
        ratio: dice.between(2.5, 5.0),
        knee_db: 6.0,
        attack_s: dice.between(0.005, 0.02),
        release_s: dice.between(0.08, 0.25),
        rms_s: Some(0.005),
        is_decoupled: false,
    }
}
