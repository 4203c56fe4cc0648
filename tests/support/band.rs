//! A band and its microphones by seed: who plays when, and what each file holds of all of them.
//!
//! Truth by construction: players are rendered alone and brought to a level, then every microphone hears its own player and, softer
//! and later, the others with two reflections; a line hears nobody. What is planted is planted before or behind that.

use deskside::demo::random::Random;
use deskside::demo::source::{Instrument, Note, phrase, render};
use deskside::unit::Span;

/// Rate of all files, in Hz.
pub(crate) const RATE_HZ: u32 = 48_000;

/// Spill of a player who is as loud as the others re a microphone's own, and how far it differs from pair to pair, in dB.
const SPILL_DB: f64 = -28.0;
const SPILL_RANGE_DB: f64 = 4.0;

/// Noise of a preamplifier, and of the room at microphones, in dBFS.
const HISS_DBFS: f64 = -90.0;
const ROOM_DBFS: f64 = -72.0;

/// Steps by which it is told when somebody plays, in seconds, and how far under the loud level that still counts, in dB.
const STEP_S: f64 = 0.05;
const PLAYS_DB: f64 = 35.0;

/// A player with a microphone or a line of their own.
#[derive(Clone, Debug)]
pub(crate) struct Player {
    /// Name of the file.
    pub(crate) name: &'static str,
    pub(crate) who: Instrument,
    pub(crate) is_line: bool,
    /// Level at their own microphone when they are loud, in dBFS.
    pub(crate) level_dbfs: f64,
    /// How loud they are on the stage re the others, in dB.
    pub(crate) stage_db: f64,
    /// How much more than others their microphone hears of the stage, in dB.
    pub(crate) hears_db: f64,
    /// When they play.
    pub(crate) plays: Vec<Span>,
}

/// A player at a microphone; levels are drawn by the band.
pub(crate) fn at_mic(name: &'static str, who: Instrument, plays: &[[f64; 2]]) -> Player {
    let plays = plays.iter().map(|[start_s, end_s]| Span::new(*start_s, *end_s)).collect();
    Player { name, who, is_line: false, level_dbfs: -20.0, stage_db: 0.0, hears_db: 0.0, plays }
}

/// The same by wire: the stage hears less of it.
pub(crate) fn by_wire(name: &'static str, who: Instrument, plays: &[[f64; 2]]) -> Player {
    Player { is_line: true, stage_db: -8.0, ..at_mic(name, who, plays) }
}

/// Samples in a time.
pub(crate) fn samples(time_s: f64) -> usize {
    (time_s * f64::from(RATE_HZ)).round() as usize
}

/// Amplitude of a level in dB.
pub(crate) fn amplitude(level_db: f64) -> f64 {
    10_f64.powf(level_db / 20.0)
}

/// Players on a stage.
#[derive(Clone, Debug)]
pub(crate) struct Band {
    pub(crate) seed: u64,
    pub(crate) length_s: f64,
    pub(crate) players: Vec<Player>,
}

impl Band {
    /// A band whose levels are drawn.
    pub(crate) fn drawn(seed: u64, length_s: f64, mut players: Vec<Player>) -> Self {
        let mut random = Random::branch(seed, 0xba4d);
        for player in &mut players {
            player.level_dbfs = random.between(-24.0, -14.0);
        }
        Self { seed, length_s, players }
    }

    /// What each plays, alone, at a loud level of 0 dBFS.
    pub(crate) fn sounds(&self) -> Vec<Vec<f32>> {
        (0..self.players.len()).map(|idx| self.sound(idx)).collect()
    }

    /// What a player plays, in order.
    pub(crate) fn notes(&self, idx: usize) -> Vec<Note> {
        let player = &self.players[idx];
        let mut random = Random::branch(self.seed, idx as u64);
        let mut notes: Vec<Note> = Vec::new();
        for span in &player.plays {
            // Phrases differ in strength, as players do.
            let strength = 0.05 * random.bell();
            for mut note in phrase(player.who, span.length_s(), random.next_u64()) {
                note.start_s += span.start_s;
                note.velocity = (note.velocity + strength).clamp(0.2, 1.0);
                notes.push(note);
            }
        }
        notes.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
        notes
    }

    fn sound(&self, idx: usize) -> Vec<f32> {
        let n = samples(self.length_s);
        let seed = Random::branch(self.seed, 300 + idx as u64).next_u64();
        let mut x = render(self.players[idx].who, &self.notes(idx), n, RATE_HZ, seed);
        x.resize(n, 0.0);
        let gain = 1.0 / loud(&x).max(1e-9);
        x.iter_mut().for_each(|x| *x *= gain as f32);
        x
    }

    /// What the file of each holds.
    pub(crate) fn heard(&self, sounds: &[Vec<f32>]) -> Vec<Vec<f32>> {
        (0..self.players.len()).map(|idx| self.file(sounds, idx)).collect()
    }

    fn file(&self, sounds: &[Vec<f32>], idx: usize) -> Vec<f32> {
        let mut random = Random::branch(self.seed, 100 + idx as u64);
        let own = &self.players[idx];
        let gain = amplitude(own.level_dbfs);
        let mut out: Vec<f32> = sounds[idx].iter().map(|x| gain as f32 * x).collect();
        let mut room = 0.0;
        let (hiss, air) = (amplitude(HISS_DBFS), amplitude(ROOM_DBFS));
        for x in &mut out {
            // Dark noise: a low-pass of first order leaves 0.05 / 1.95 of the power.
            room += 0.05 * (random.bell() - room);
            let air = if own.is_line { 0.0 } else { air * (1.95_f64 / 0.05).sqrt() * room };
            *x += (hiss * random.bell() + air) as f32;
        }
        if own.is_line {
            return out;
        }
        for (other, sound) in sounds.iter().enumerate().filter(|(other, _)| *other != idx) {
            let spill_db = SPILL_DB
                + own.hears_db
                + self.players[other].stage_db
                + random.between(-SPILL_RANGE_DB, SPILL_RANGE_DB);
            let way_s = random.between(0.004, 0.018);
            for (later_s, less_db) in [(0.0, 0.0), (0.007, 5.0), (0.019, 8.0)] {
                let delay = samples(way_s + later_s * random.between(0.7, 1.3));
                let gain = (gain * amplitude(spill_db - less_db)) as f32;
                out[delay..].iter_mut().zip(sound).for_each(|(x, sound)| *x += gain * sound);
            }
        }
        out
    }

    /// Names and samples of all files.
    pub(crate) fn files(&self, heard: Vec<Vec<f32>>) -> Vec<(&'static str, Vec<f32>)> {
        self.players.iter().map(|player| player.name).zip(heard).collect()
    }
}

/// The loud level of what somebody plays, as an amplitude: 90 % of the 50 ms in which it sounds lie below.
fn loud(x: &[f32]) -> f64 {
    let mut powers = powers(x);
    powers.sort_by(f64::total_cmp);
    let top = powers.last().copied().unwrap_or_default();
    let from = powers.partition_point(|power| *power < 1e-4 * top);
    powers[from + (powers.len() - from) * 9 / 10].sqrt()
}

fn powers(x: &[f32]) -> Vec<f64> {
    let power =
        |part: &[f32]| part.iter().map(|x| f64::from(*x).powi(2)).sum::<f64>() / part.len() as f64;
    x.chunks(samples(STEP_S)).map(power).collect()
}

/// When a player who was rendered alone sounds: gaps under 0.3 s closed.
pub(crate) fn sounding(sound: &[f32]) -> Vec<Span> {
    let border = 10_f64.powf(-PLAYS_DB / 10.0);
    let mut spans: Vec<Span> = Vec::new();
    for (step, _) in powers(sound).iter().enumerate().filter(|(_, power)| **power > border) {
        let start_s = step as f64 * STEP_S;
        match spans.last_mut() {
            Some(last) if start_s - last.end_s < 0.3 => last.end_s = start_s + STEP_S,
            _ => spans.push(Span::new(start_s, start_s + STEP_S)),
        }
    }
    spans
}
