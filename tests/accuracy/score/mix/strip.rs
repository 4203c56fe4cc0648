//! A strip of a desk: what it does to a channel, sample by sample, and what that is in figures.
//!
//! Second-order sections after R. Bristow-Johnson, "Cookbook formulae for audio EQ biquad filter coefficients"; the compressor is that of
//! the support module. Never the program's own filters.

use std::f64::consts::{FRAC_PI_4, TAU};

use super::RATE_HZ;
use crate::support::squeeze::Squeeze;

/// Time of a switch, in seconds.
const SWITCH_S: f64 = 0.01;

/// How a strip is set.
#[derive(Clone, Debug)]
pub(crate) struct Strip {
    pub(crate) name: String,
    pub(crate) file: String,
    pub(crate) role: String,
    pub(crate) gain_db: f64,
    pub(crate) pan: f64,
    pub(crate) high_pass_hz: Option<f64>,
    /// Middle in Hz, height in dB, quality.
    pub(crate) bell: Option<[f64; 3]>,
    pub(crate) squeeze: Option<Squeeze>,
    pub(crate) is_inverted: bool,
    /// When it opens or closes, in order, in seconds; it is open at first.
    pub(crate) edges_s: Vec<f64>,
    /// Begin, length in seconds, and height in dB of fader moves.
    pub(crate) moves: Vec<[f64; 3]>,
    /// Send to the effect re the fader, in dB.
    pub(crate) send_db: Option<f64>,
    pub(crate) is_recorded: bool,
}

/// A second-order section: `b0 b1 b2 a1 a2`.
type Section = [f64; 5];

impl Strip {
    /// Shares of the left and the right.
    pub(crate) fn sides(&self) -> [f64; 2] {
        let angle = (self.pan + 1.0) * FRAC_PI_4;
        [angle.cos(), angle.sin()]
    }

    /// The channel behind switch and fader, before the pan.
    pub(crate) fn run(&self, raw: &[f32]) -> Vec<f32> {
        let mut samples: Vec<f32> = raw.to_vec();
        for section in self.sections() {
            filter(section, &mut samples);
        }
        let reductions_db = self.squeeze.map(|squeeze| squeeze.reductions_db(&samples));
        let sign = if self.is_inverted { -1.0 } else { 1.0 };
        let mut gain = 0.0;
        for (place, x) in samples.iter_mut().enumerate() {
            if place % 16 == 0 {
                gain = self.gain(place as f64 / RATE_HZ as f64);
            }
            let reduction_db = reductions_db.as_ref().map_or(0.0, |reductions| reductions[place]);
            let moved = if reduction_db > 0.0 { 10f64.powf(-reduction_db / 20.0) } else { 1.0 };
            *x = (f64::from(*x) * sign * gain * moved) as f32;
        }
        samples
    }

    /// Fader and switch at a moment, as a factor.
    fn gain(&self, at_s: f64) -> f64 {
        let moved_db: f64 = self
            .moves
            .iter()
            .map(|[start_s, length_s, height_db]| {
                height_db * ((at_s - start_s) / length_s).clamp(0.0, 1.0)
            })
            .sum();
        let n_passed = self.edges_s.iter().filter(|edge_s| **edge_s <= at_s).count();
        let since_s =
            n_passed.checked_sub(1).map_or(f64::INFINITY, |last| at_s - self.edges_s[last]);
        let towards = (since_s / SWITCH_S).min(1.0);
        let switch = if n_passed % 2 == 0 { towards } else { 1.0 - towards };
        let switch = if n_passed == 0 { 1.0 } else { switch };
        switch * 10f64.powf((self.gain_db + moved_db) / 20.0)
    }

    /// Whether it is open at a moment.
    pub(crate) fn is_open(&self, at_s: f64) -> bool {
        self.edges_s.iter().filter(|edge_s| **edge_s <= at_s).count() % 2 == 0
    }

    /// What its filters do to a frequency, in dB.
    pub(crate) fn eq_db(&self, hz: f64) -> f64 {
        self.sections().map(|section| response_db(section, hz)).sum()
    }

    fn sections(&self) -> impl Iterator<Item = Section> {
        let bell = self.bell.map(|[hz, gain_db, quality]| bell(hz, gain_db, quality));
        self.high_pass_hz.map(high_pass).into_iter().chain(bell)
    }
}

fn high_pass(hz: f64) -> Section {
    let w = TAU * hz / RATE_HZ as f64;
    let alpha = w.sin() / std::f64::consts::SQRT_2;
    let (cos, a0) = (w.cos(), 1.0 + alpha);
    [(1.0 + cos) / 2.0, -(1.0 + cos), (1.0 + cos) / 2.0, -2.0 * cos, 1.0 - alpha].map(|x| x / a0)
}

fn bell(hz: f64, gain_db: f64, quality: f64) -> Section {
    let (w, a) = (TAU * hz / RATE_HZ as f64, 10f64.powf(gain_db / 40.0));
    let alpha = w.sin() / (2.0 * quality);
    let (cos, a0) = (w.cos(), 1.0 + alpha / a);
    [1.0 + alpha * a, -2.0 * cos, 1.0 - alpha * a, -2.0 * cos, 1.0 - alpha / a].map(|x| x / a0)
}

fn filter([b0, b1, b2, a1, a2]: Section, samples: &mut [f32]) {
    let (mut s1, mut s2) = (0.0, 0.0);
    for x in samples {
        let input = f64::from(*x);
        let y = b0 * input + s1;
        s1 = b1 * input - a1 * y + s2;
        s2 = b2 * input - a2 * y;
        *x = y as f32;
    }
}

fn response_db([b0, b1, b2, a1, a2]: Section, hz: f64) -> f64 {
    let w = TAU * hz / RATE_HZ as f64;
    let size = |c0: f64, c1: f64, c2: f64| {
        let re = c0 + c1 * w.cos() + c2 * (2.0 * w).cos();
        let im = c1 * w.sin() + c2 * (2.0 * w).sin();
        re * re + im * im
    };
    10.0 * (size(b0, b1, b2) / size(1.0, a1, a2)).log10()
}
