//! Where a fader stands and whether its channel is open, at any moment.
//!
//! Takes the moves and switches of a scene, gives gains. Never smooths beyond what the scene says and a switch's ramp.

use crate::demo::scene::Scene;

/// How long a switch takes, in seconds: 10 ms, so that it doesn't click (common practice in desks).
const SWITCH_RAMP_S: f64 = 0.010;

/// Samples between two exact gains; between them the gain moves in a straight line.
const STRIDE: usize = 16;

/// A fader over time.
#[derive(Clone, Debug)]
pub struct Automation {
    /// Corners of the fader's course: time in s, position in dB.
    pub points_db: Vec<(f64, f64)>,
    /// Times at which the channel opens or closes, in s; the first is the start.
    pub switches: Vec<(f64, bool)>,
}

impl Automation {
    /// The course of a channel or of the effect's return.
    pub fn new(scene: &Scene, name: &str, fader_db: f64, open: bool) -> Self {
        let named = |names: &[String]| names.iter().any(|other| other == name);
        let mut moves: Vec<_> = scene.moves.iter().filter(|m| named(&m.channels)).collect();
        moves.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
        let mut points_db = vec![(0.0, fader_db)];
        let mut now_db = fader_db;
        for m in moves {
            points_db.extend([(m.at_s, now_db), (m.at_s + m.ramp_s, m.fader_db)]);
            now_db = m.fader_db;
        }
        let mut switches = vec![(0.0, open)];
        switches
            .extend(scene.switches.iter().filter(|s| named(&s.channels)).map(|s| (s.at_s, s.open)));
        switches.sort_by(|a, b| a.0.total_cmp(&b.0));
        Self { points_db, switches }
    }

    /// The fader's position at a moment, in dB.
    pub fn fader_db(&self, at_s: f64) -> f64 {
        let next = self.points_db.partition_point(|point| point.0 <= at_s);
        match (self.points_db.get(next.wrapping_sub(1)), self.points_db.get(next)) {
            (Some(a), Some(b)) => a.1 + (b.1 - a.1) * (at_s - a.0) / (b.0 - a.0),
            (Some(a), None) | (None, Some(a)) => a.1,
            (None, None) => 0.0,
        }
    }

    /// Factor of pressure at a moment: fader and switch together.
    pub fn gain(&self, at_s: f64) -> f64 {
        let next = self.switches.partition_point(|switch| switch.0 <= at_s);
        let open = |idx: usize| self.switches.get(idx).is_none_or(|switch| switch.1);
        let now = next.saturating_sub(1);
        let since_s = at_s - self.switches.get(now).map_or(0.0, |switch| switch.0);
        let moved = if now == 0 { 1.0 } else { (since_s / SWITCH_RAMP_S).clamp(0.0, 1.0) };
        let level = |open: bool| if open { 1.0 } else { 0.0 };
        let before = level(open(now.saturating_sub(1)));
        let switch = before + (level(open(now)) - before) * moved;
        if switch > 0.0 { switch * 10_f64.powf(self.fader_db(at_s) / 20.0) } else { 0.0 }
    }

    /// Applies the gain to samples of which the first is number `first` of the take.
    #[expect(clippy::cast_possible_truncation, reason = "a gain in single precision")]
    pub fn apply(&self, samples: &mut [f32], first: usize, rate_hz: f64) {
        let at_s = |place: usize| place as f64 / rate_hz;
        let mut from = self.gain(at_s(first));
        let mut place = first;
        for block in samples.chunks_mut(STRIDE) {
            place += block.len();
            let to = self.gain(at_s(place));
            let step = (to - from) / block.len() as f64;
            let mut gain = from;
            for x in block {
                *x *= gain as f32;
                gain += step;
            }
            from = to;
        }
    }
}
