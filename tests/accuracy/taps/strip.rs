//! A channel on its way through a desk: what the microphone hears, equalisers, latency and the fader.
//!
//! Takes numbers by seed, gives samples. Never a compressor or a gate.

use deskside::demo::source::{Instrument, phrase, render};
use deskside::dsp::biquad::{Biquad, high_pass};

use super::press::RATE;
use crate::support::paths::add_delayed;
use crate::support::signals::{Rng, amplitude};

/// Length of a take, in seconds.
pub(crate) const LENGTH_S: f64 = 13.0;

/// Noise of a preamplifier, in dBFS.
const FLOOR_DBFS: f64 = -75.0;

/// A raw channel, and what of it is spill.
pub(crate) struct Channel {
    pub(crate) own: Vec<f32>,
    pub(crate) spill: Vec<f32>,
    pub(crate) raw: Vec<f32>,
}

/// Evenly on a logarithmic scale.
pub(crate) fn between(rng: &mut Rng, low: f64, high: f64) -> f64 {
    low * (high / low).powf(rng.even())
}

/// A channel with its own instrument, and others that leak into it at a level re its own.
pub(crate) fn channel(
    rng: &mut Rng,
    own: Instrument,
    others: &[Instrument],
    spill_db: f64,
) -> Channel {
    let sound = part(rng, own);
    let peak = sound.iter().fold(0.0f32, |peak, x| peak.max(x.abs()));
    let gain = amplitude(-6.0 - 6.0 * rng.even()) as f32 / peak.max(1e-9);
    let own: Vec<f32> = sound.iter().map(|x| gain * x).collect();
    let mut spill = vec![0.0; own.len()];
    for &other in others {
        let sound = part(rng, other);
        let power = rms(&sound);
        // The way to the microphone and two walls.
        for reflection_db in [0.0, -4.0, -7.0] {
            let delay = 100.0 + 1_400.0 * rng.even();
            add_delayed(&mut spill, &sound, delay, amplitude(reflection_db) / power.max(1e-9));
        }
    }
    let gain = (rms(&own) * amplitude(spill_db) / rms(&spill).max(1e-12)) as f32;
    spill.iter_mut().for_each(|x| *x *= gain);
    let floor = amplitude(FLOOR_DBFS);
    let both = own.iter().zip(&spill);
    let raw = both.map(|(own, spill)| own + spill + (floor * rng.normal()) as f32).collect();
    Channel { own, spill, raw }
}

/// What a player plays: phrases that differ in strength, with rests.
fn part(rng: &mut Rng, instrument: Instrument) -> Vec<f32> {
    let n = (LENGTH_S * RATE) as usize;
    let (mut notes, mut at_s) = (Vec::new(), 0.2);
    while at_s < LENGTH_S - 2.0 {
        let length_s = (2.5 + 4.0 * rng.even()).min(LENGTH_S - at_s);
        let strength = 0.07 * rng.normal();
        for mut note in phrase(instrument, length_s, rng.bits()) {
            let scatter = 0.08 * rng.normal();
            note.start_s += at_s;
            note.velocity = (note.velocity + strength + scatter).clamp(0.2, 1.0);
            notes.push(note);
        }
        at_s += length_s + 0.2 + 1.8 * rng.even();
    }
    notes.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
    render(instrument, &notes, n, 48_000, rng.bits())
}

pub(crate) fn rms(samples: &[f32]) -> f64 {
    let sum: f64 = samples.iter().map(|&x| f64::from(x).powi(2)).sum();
    (sum / samples.len().max(1) as f64).sqrt()
}

/// A level below which a share of the 50 ms lies, of those that are within 40 dB of the loudest.
pub(crate) fn level_dbfs(samples: &[f32], share: f64) -> f64 {
    let mut levels: Vec<f64> =
        samples.chunks_exact(2_400).map(|part| 20.0 * rms(part).max(1e-7).log10()).collect();
    levels.sort_by(f64::total_cmp);
    let loudest = levels[levels.len() - 1];
    let quiet = levels.partition_point(|level| *level < loudest - 40.0);
    let heard = &levels[quiet..];
    heard[((heard.len() - 1) as f64 * share) as usize]
}

/// An equaliser as an operator sets one.
pub(crate) fn equaliser(rng: &mut Rng) -> Vec<Biquad> {
    let mut sections = Vec::new();
    if rng.even() < 0.7 {
        sections.extend(high_pass(RATE, between(rng, 60.0, 160.0), 2));
    }
    for _ in 0..1 + rng.bits() % 3 {
        let (mid_hz, q) = (between(rng, 100.0, 8_000.0), 0.5 + 2.5 * rng.even());
        sections.push(Biquad::peak(RATE, mid_hz, q, -9.0 + 15.0 * rng.even()));
    }
    sections
}

/// Gain of a fader for each sample, in dB: one or two moves of some dB, each within two seconds.
pub(crate) fn fader_db(rng: &mut Rng) -> Vec<f64> {
    let n = (LENGTH_S * RATE) as usize;
    let mut gain_db = vec![0.0; n];
    for _ in 0..1 + rng.bits() % 2 {
        let begin_s = 2.0 + (LENGTH_S - 6.0) * rng.even();
        let length_s = between(rng, 0.2, 2.0);
        let sign = if rng.bits().is_multiple_of(2) { 1.0 } else { -1.0 };
        let move_db = sign * (2.0 + 4.0 * rng.even());
        for (at, gain_db) in gain_db.iter_mut().enumerate() {
            let into = ((at as f64 / RATE - begin_s) / length_s).clamp(0.0, 1.0);
            *gain_db += move_db * into;
        }
    }
    gain_db
}
