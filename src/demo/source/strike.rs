//! Something that is hit: ringing modes, and bands of noise that flare up and die away.
//!
//! Takes a description of the body and the hits, adds the sound to the sheet. The body goes on ringing through the next
//! hit, as a real one does. Hits differ: each mode is struck a little stronger or weaker each time.

use crate::demo::random::Random;
use crate::demo::source::Note;
use crate::demo::source::canvas::{Canvas, factor, keep, strength};
use crate::demo::source::filter::Filter;
use crate::demo::source::partials::{Bank, Partial};

/// What is hit.
#[derive(Clone, Debug)]
pub(super) struct Body {
    /// Its tones.
    pub(super) modes: Vec<Mode>,
    /// Its noises.
    pub(super) noises: Vec<Noise>,
    /// How much higher the tones begin, as a ratio above 1, while the skin is stretched.
    pub(super) glide: f64,
    /// Share of the old ringing that a new hit leaves.
    pub(super) left_by_hit: f64,
    /// Which noise it makes: bodies that share the seed of their hits may differ here.
    pub(super) stream: u64,
}

/// A tone of the body.
#[derive(Clone, Copy, Debug)]
pub(super) struct Mode {
    /// Frequency, in Hz.
    pub(super) at_hz: f64,
    /// Time to fall by 60 dB, in seconds.
    pub(super) t60_s: f64,
    /// Amplitude of a hit of strength 1; negative where the sound comes out inverted.
    pub(super) amplitude: f64,
}

/// A band of noise.
#[derive(Clone, Copy, Debug)]
pub(super) struct Noise {
    /// Lower end, in Hz.
    pub(super) from_hz: f64,
    /// Upper end, in Hz.
    pub(super) to_hz: f64,
    /// Time to build up, in seconds.
    pub(super) rise_s: f64,
    /// Time to fall by 60 dB, in seconds.
    pub(super) t60_s: f64,
    /// Level of a hit of strength 1, in dB.
    pub(super) level_db: f64,
}

/// A hit.
#[derive(Clone, Copy, Debug)]
pub(super) struct Hit {
    /// Its first sample.
    pub(super) at: usize,
    /// Amplitude.
    pub(super) strength: f64,
    /// Multiple of the body's decay times.
    pub(super) ring: f64,
}

/// Time constant of the falling pitch, in seconds: common practice in drum synthesis is 20 to 50 ms.
const GLIDE_S: f64 = 0.03;

/// Samples between two settings of the falling pitch.
const GLIDE_STEP: usize = 32;

/// Sets the streams of the noises apart from those of the hits.
const NOISE: u64 = 0x6E6F_6973_6500_0000;

impl Body {
    /// The body built larger (above 1) or smaller: tones lower and longer by that ratio, noises as they are.
    pub(super) fn sized(mut self, size: f64) -> Self {
        for mode in &mut self.modes {
            mode.at_hz /= size;
            mode.t60_s *= size;
        }
        self
    }
}

impl Mode {
    /// A tone with its level in dB.
    pub(super) fn new(at_hz: f64, t60_s: f64, level_db: f64) -> Self {
        Self { at_hz, t60_s, amplitude: factor(level_db) }
    }

    /// The tone as heard from behind.
    pub(super) fn inverted(self) -> Self {
        Self { amplitude: -self.amplitude, ..self }
    }
}

impl Noise {
    /// A noise that is there at once.
    pub(super) const fn new(from_hz: f64, to_hz: f64, t60_s: f64, level_db: f64) -> Self {
        Self { from_hz, to_hz, rise_s: 3e-4, t60_s, level_db }
    }

    /// The same noise, slower to build up.
    pub(super) const fn rising(self, rise_s: f64) -> Self {
        Self { rise_s, ..self }
    }
}

impl Hit {
    /// The hits of a part, in order, each with this ring.
    pub(super) fn from_notes(
        canvas: &Canvas,
        notes: &[Note],
        ring: impl Fn(&Note) -> f64,
    ) -> Vec<Self> {
        let mut hits: Vec<_> = notes
            .iter()
            .map(|note| Self {
                at: canvas.index(note.start_s),
                strength: strength(note.velocity),
                ring: ring(note),
            })
            .filter(|hit| hit.at < canvas.samples.len())
            .collect();
        hits.sort_by_key(|hit| hit.at);
        hits
    }
}

/// Plays hits on a body. Hits are in order.
pub(super) fn play(canvas: &mut Canvas, body: &Body, hits: &[Hit], seed: u64) {
    ring(canvas, body, hits, seed);
    for (idx, noise) in (0..).zip(&body.noises) {
        let random = Random::branch(seed ^ NOISE, 100 * body.stream + idx);
        rustle(canvas, noise, body.left_by_hit, hits, random);
    }
}

fn ring(canvas: &mut Canvas, body: &Body, hits: &[Hit], seed: u64) {
    let partials =
        body.modes.iter().map(|mode| Partial { at_hz: mode.at_hz, t60_s: mode.t60_s }).collect();
    let mut bank = Bank::new(partials, canvas.rate_hz);
    for (idx, hit) in hits.iter().enumerate() {
        let mut random = Random::branch(seed, idx as u64);
        bank.damp(body.left_by_hit);
        for (mode_idx, mode) in body.modes.iter().enumerate() {
            let touch = factor(1.5 * random.bell());
            bank.strike(mode_idx, hit.strength * touch * mode.amplitude, 0.0);
        }
        let end = hits.get(idx + 1).map_or(canvas.samples.len(), |next| next.at);
        bank.tune(1.0, hit.ring);
        let mut from = hit.at;
        let mut bend = body.glide;
        let relax = (-(GLIDE_STEP as f64) / (GLIDE_S * canvas.rate_hz)).exp();
        while from < end && bend > 1e-3 {
            let to = end.min(from + GLIDE_STEP);
            bank.tune(1.0 + bend, hit.ring);
            bank.run(&mut canvas.samples[from..to]);
            bend *= relax;
            from = to;
        }
        bank.tune(1.0, hit.ring);
        bank.run(&mut canvas.samples[from..end]);
    }
}

fn rustle(canvas: &mut Canvas, noise: &Noise, left_by_hit: f64, hits: &[Hit], mut random: Random) {
    let rate_hz = canvas.rate_hz;
    let mut low_end = Filter::high_pass(rate_hz, noise.from_hz, 0.7);
    let mut high_end = Filter::low_pass(rate_hz, noise.to_hz, 0.7);
    let follow = 1.0 - (-1.0 / (noise.rise_s * rate_hz)).exp();
    let scale = factor(noise.level_db);
    let (mut goal, mut level) = (0.0, 0.0);
    for (idx, hit) in hits.iter().enumerate() {
        goal = goal * left_by_hit + hit.strength * scale * factor(random.bell());
        let fall = keep(noise.t60_s * hit.ring, rate_hz);
        let end = hits.get(idx + 1).map_or(canvas.samples.len(), |next| next.at);
        for sample in &mut canvas.samples[hit.at..end] {
            goal *= fall;
            level += follow * (goal - level);
            if goal < 1e-6 * scale {
                break;
            }
            *sample += high_end.step(low_end.step(level * random.signed()));
        }
    }
}
