//! Clean clips by seed: instruments, voices, noise and a low bass, each with the floor of a stage.
//!
//! Takes a seed, gives samples in double precision. Never holds a fault.

use deskside::demo::random::Random;
use deskside::demo::source::{Instrument, Note, phrase, render};

/// Rate of all clips.
pub(crate) const RATE_HZ: u32 = 48_000;

/// Length of a clip, in seconds.
pub(crate) const LENGTH_S: f64 = 12.0;

/// What plays in the clips; noise and a bass on its lowest string come besides.
const CAST: [Instrument; 22] = [
    Instrument::Kick,
    Instrument::SnareTop,
    Instrument::HiHat,
    Instrument::RackTom,
    Instrument::Cajon,
    Instrument::Bass,
    Instrument::AcousticGuitar,
    Instrument::ElectricGuitar,
    Instrument::KeysLeft,
    Instrument::Fiddle,
    Instrument::Trumpet,
    Instrument::LeadVoice,
    Instrument::BackingVoice(1),
    Instrument::Choir,
    Instrument::Host,
    Instrument::Talkback,
    Instrument::DrivenGuitar,
    Instrument::Cello,
    Instrument::Clarinet,
    Instrument::Saxophone,
    Instrument::Accordion,
    Instrument::OrganLeft,
];

/// Voices in which blasts of air are planted.
const VOICES: [Instrument; 4] =
    [Instrument::Host, Instrument::LeadVoice, Instrument::Talkback, Instrument::BackingVoice(2)];

/// A clip.
#[derive(Clone, Debug)]
pub(crate) struct Clip {
    /// What it holds.
    pub(crate) name: String,
    /// Samples, 1 is full scale.
    pub(crate) x: Vec<f64>,
    /// Random numbers for what is planted in it.
    pub(crate) random: Random,
}

/// All clips of a seed, made once for all trials.
pub(crate) struct Material {
    /// Instruments, noise and a low bass.
    pub(crate) clips: Vec<Clip>,
    /// Voices of half a minute.
    pub(crate) voices: Vec<Clip>,
}

impl Material {
    /// The clips of a seed.
    pub(crate) fn of(seed: u64) -> Self {
        Self { clips: clips(seed), voices: voices(seed) }
    }
}

/// Samples in a time.
pub(crate) fn samples(time_s: f64) -> usize {
    (time_s * f64::from(RATE_HZ)).round() as usize
}

/// Amplitude of a level in dB.
pub(crate) fn amplitude(level_db: f64) -> f64 {
    10_f64.powf(level_db / 20.0)
}

/// The 24 clips of a seed.
fn clips(seed: u64) -> Vec<Clip> {
    let mut clips: Vec<Clip> =
        CAST.iter().zip(0..).map(|(who, branch)| played(*who, LENGTH_S, seed, branch)).collect();
    clips.push(on_stage("noise in phrases", phrases_of_noise(seed), seed, 90));
    let notes = low_notes(seed, 28.0, LENGTH_S);
    clips.push(on_stage("low bass", of_notes(Instrument::Bass, &notes, LENGTH_S, seed), seed, 91));
    clips
}

/// Voices of a seed, half a minute each.
fn voices(seed: u64) -> Vec<Clip> {
    let numbered = VOICES.iter().cycle().take(8).zip(0..);
    numbered.map(|(who, branch)| played(*who, 30.0, seed, 40 + branch)).collect()
}

/// Typical material of an instrument, on a stage.
fn played(who: Instrument, length_s: f64, seed: u64, branch: u64) -> Clip {
    let seed_here = Random::branch(seed, branch).next_u64();
    let notes = phrase(who, length_s, seed_here);
    on_stage(&format!("{who:?}"), of_notes(who, &notes, length_s, seed_here), seed, branch)
}

/// Notes as samples.
pub(crate) fn of_notes(who: Instrument, notes: &[Note], length_s: f64, seed: u64) -> Vec<f64> {
    let dry = render(who, notes, samples(length_s), RATE_HZ, seed);
    dry.iter().map(|x| f64::from(*x)).collect()
}

/// A level by lot, and the floor of a stage: dark noise of room and neighbours, and the noise of a preamplifier.
pub(crate) fn on_stage(name: &str, mut x: Vec<f64>, seed: u64, branch: u64) -> Clip {
    let mut random = Random::branch(seed, 1000 + branch);
    let gain = amplitude(random.between(-8.0, 2.0));
    let (room, hiss) =
        (amplitude(random.between(-66.0, -52.0)), amplitude(random.between(-94.0, -84.0)));
    // A low-pass of first order at 500 Hz, with the gain that keeps the power.
    let keep = (-std::f64::consts::TAU * 500.0 / f64::from(RATE_HZ)).exp();
    let scale = ((1.0 + keep) / (1.0 - keep)).sqrt();
    let mut last = 0.0;
    for x in &mut x {
        last = keep * last + (1.0 - keep) * random.bell();
        *x = gain * *x + room * scale * last + hiss * random.bell();
    }
    Clip { name: name.to_owned(), x, random }
}

/// Phrases of noise with pauses, each of its own level and colour.
fn phrases_of_noise(seed: u64) -> Vec<f64> {
    let mut random = Random::branch(seed, 92);
    let mut x = Vec::new();
    while x.len() < samples(LENGTH_S) {
        let level = amplitude(random.between(-34.0, -14.0));
        let smooth = random.between(0.2, 0.95);
        let fade = samples(0.02);
        let n = samples(random.between(0.3, 2.0));
        let mut last = 0.0;
        for at in 0..n {
            last = smooth * last + (1.0 - smooth) * random.bell();
            // Twenty milliseconds from nothing to full, as breath and bow have.
            let edge = (at.min(n - at) as f64 / fade as f64).min(1.0);
            x.push(2.0 * level * edge * last);
        }
        x.resize(x.len() + samples(random.between(0.1, 0.6)), 0.0);
    }
    x.truncate(samples(LENGTH_S));
    x
}

/// Notes on and near one pitch, with rests.
pub(crate) fn low_notes(seed: u64, pitch: f64, length_s: f64) -> Vec<Note> {
    let mut random = Random::branch(seed, 93);
    let mut notes = Vec::new();
    let mut start_s = random.between(0.1, 0.6);
    while start_s < length_s {
        let step = *random.pick(&[0.0, 0.0, 0.0, 3.0, 5.0, 12.0]);
        let note = Note {
            start_s,
            length_s: random.between(0.3, 2.5),
            pitch: pitch + step,
            velocity: random.between(0.6, 0.9),
        };
        start_s += note.length_s + *random.pick(&[0.0, 0.0, 0.2, 1.5, 3.5]);
        notes.push(note);
    }
    notes
}
