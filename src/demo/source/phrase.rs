//! What each instrument typically plays.
//!
//! Takes an instrument, gives notes at a middling tempo. Never a tune: patterns and steps of a scale, with the scatter of a player.

use crate::demo::random::Random;
use crate::demo::source::{Instrument, Note};

/// Time from one beat to the next, in seconds: 112 beats a minute.
const BEAT_S: f64 = 60.0 / 112.0;

/// Roots of a plain turn of four chords, as steps above the key.
const ROOTS: [f64; 4] = [0.0, 7.0, 9.0, 5.0];

/// Steps of a major scale.
const SCALE: [f64; 7] = [0.0, 2.0, 4.0, 5.0, 7.0, 9.0, 11.0];

/// Typical material of an instrument, `seconds` long: what it plays in a song, with the scatter of a player. Talk is one
/// utterance, applause one clap after another for the whole time.
pub fn phrase(instrument: Instrument, seconds: f64, seed: u64) -> Vec<Note> {
    let mut random = Random::branch(seed, 0x7068_7261_7365);
    match instrument {
        Instrument::Kick => hits(seconds, &mut random, &[0.0, 2.0, 2.5], 4.0, 36.0),
        Instrument::SnareTop | Instrument::SnareBottom => {
            hits(seconds, &mut random, &[1.0, 3.0], 4.0, 38.0)
        }
        Instrument::HiHat => hi_hat(seconds, &mut random),
        Instrument::RackTom => hits(seconds, &mut random, &[2.0, 2.5, 3.0], 4.0, 48.0),
        Instrument::FloorTom => hits(seconds, &mut random, &[2.5, 3.0, 3.5], 4.0, 43.0),
        Instrument::Crash => hits(seconds, &mut random, &[0.0], 8.0, 49.0),
        Instrument::Ride => hits(seconds, &mut random, &[0.0, 1.0, 1.5, 2.0, 3.0], 4.0, 51.0),
        Instrument::Cajon => cajon(seconds, &mut random),
        Instrument::Bass => bass(seconds, &mut random),
        Instrument::AcousticGuitar => strums(seconds, &mut random, 50.0, 0.012),
        Instrument::ElectricGuitar | Instrument::DrivenGuitar => {
            strums(seconds, &mut random, 50.0, 0.006)
        }
        Instrument::KeysLeft
        | Instrument::KeysRight
        | Instrument::Accordion
        | Instrument::OrganLeft
        | Instrument::OrganRight => keys(seconds, &mut random),
        Instrument::Fiddle | Instrument::Trumpet | Instrument::Clarinet => {
            line(seconds, &mut random, 62.0, 1.0)
        }
        Instrument::Saxophone => line(seconds, &mut random, 55.0, 1.0),
        Instrument::Cello => line(seconds, &mut random, 48.0, 1.5),
        Instrument::LeadVoice => line(seconds, &mut random, 50.0, 0.75),
        Instrument::BackingVoice(number) => {
            line(seconds, &mut random, 50.0 + f64::from(number % 2), 0.75)
        }
        Instrument::Choir | Instrument::ChoirSinger(_) => choir(seconds, &mut random),
        Instrument::Host => vec![talk(seconds, 50.0)],
        Instrument::Talkback => vec![talk(seconds, 48.0)],
        Instrument::Applause => vec![talk(seconds, 60.0)],
        Instrument::Clap => vec![Note { start_s: 0.1, length_s: 0.1, pitch: 60.0, velocity: 0.8 }],
        Instrument::Click => beats(seconds, 1.0)
            .map(|(beat, start_s)| {
                let pitch = if beat % 4 == 0 { 91.0 } else { 84.0 };
                Note { start_s, length_s: 0.03, pitch, velocity: 0.8 }
            })
            .collect(),
        Instrument::SynthPad => chords(seconds, 4.0)
            .flat_map(|(start_s, root)| {
                [0.0, 7.0, 16.0].map(|step| Note {
                    start_s,
                    length_s: 4.0 * BEAT_S,
                    pitch: 60.0 + root + step,
                    velocity: 0.8,
                })
            })
            .collect(),
    }
}

fn talk(seconds: f64, pitch: f64) -> Note {
    Note { start_s: 0.0, length_s: seconds, pitch, velocity: 0.8 }
}

/// The beats of a time with their numbers: one each `every` beats.
fn beats(seconds: f64, every: f64) -> impl Iterator<Item = (u32, f64)> {
    (0..)
        .map(move |beat| (beat, f64::from(beat) * every * BEAT_S))
        .take_while(move |&(_, start_s)| start_s < seconds)
}

/// Where the chords begin, each with its root.
fn chords(seconds: f64, every: f64) -> impl Iterator<Item = (f64, f64)> {
    beats(seconds, every)
        .zip(ROOTS.into_iter().cycle())
        .map(|((_, start_s), root)| (start_s, if root > 6.0 { root - 12.0 } else { root }))
}

/// A pattern of places in a bar, again and again.
fn hits(seconds: f64, random: &mut Random, places: &[f64], bar: f64, pitch: f64) -> Vec<Note> {
    let mut notes = Vec::new();
    for (_, start_s) in beats(seconds, bar) {
        for &place in places {
            let accent = if place.fract() > 0.0 { -0.12 } else { 0.0 };
            notes.push(touched(start_s + place * BEAT_S, 0.1, pitch, 0.8 + accent, random));
        }
    }
    notes.retain(|note| note.start_s < seconds);
    notes
}

/// A note as a player plays it: some milliseconds early or late, a little louder or softer.
fn touched(start_s: f64, length_s: f64, pitch: f64, velocity: f64, random: &mut Random) -> Note {
    Note {
        start_s: (start_s + 0.006 * random.bell()).max(0.0),
        length_s,
        pitch,
        velocity: (velocity + 0.05 * random.bell()).clamp(0.05, 1.0),
    }
}

/// Quavers, the last of each bar open.
fn hi_hat(seconds: f64, random: &mut Random) -> Vec<Note> {
    let quavers = [0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5];
    let mut notes = hits(seconds, random, &quavers, 4.0, 42.0);
    for note in notes.iter_mut().skip(7).step_by(8) {
        note.length_s = 0.3;
    }
    notes
}

fn cajon(seconds: f64, random: &mut Random) -> Vec<Note> {
    let mut notes = hits(seconds, random, &[0.0, 2.0, 2.5], 4.0, 45.0);
    notes.extend(hits(seconds, random, &[1.0, 1.75, 3.0, 3.5], 4.0, 62.0));
    notes
}

fn bass(seconds: f64, random: &mut Random) -> Vec<Note> {
    let mut notes = Vec::new();
    for (start_s, root) in chords(seconds, 4.0) {
        for (beat, step) in [(0.0, 0.0), (1.0, 0.0), (2.0, 7.0), (3.0, 0.0), (3.5, -5.0)] {
            // Kept on the lowest octave and a half.
            let pitch = 33.0 + root + step;
            let pitch = if pitch < 28.0 { pitch + 12.0 } else { pitch };
            notes.push(touched(start_s + beat * BEAT_S, 0.85 * BEAT_S, pitch, 0.8, random));
        }
    }
    notes
}

/// Chords over six strings, down on the beat and up between.
fn strums(seconds: f64, random: &mut Random, key: f64, spread_s: f64) -> Vec<Note> {
    let mut notes = Vec::new();
    for (start_s, root) in chords(seconds, 4.0) {
        for (beat, length, down) in
            [(0.0, 1.5, true), (1.5, 0.5, false), (2.0, 1.0, true), (3.0, 1.0, true)]
        {
            let mut strings = [-12.0, -5.0, 0.0, 4.0, 7.0, 12.0];
            if !down {
                strings.reverse();
            }
            for (place, step) in (0..).zip(strings) {
                let at_s = start_s + beat * BEAT_S + f64::from(place) * spread_s;
                let velocity = if down { 0.8 } else { 0.65 };
                let length_s = 0.95 * length * BEAT_S;
                let pitch = (key + root + step).max(40.0);
                notes.push(touched(at_s, length_s, pitch, velocity, random));
            }
        }
    }
    notes
}

/// Left hand on the beat, three notes of the right hand between.
fn keys(seconds: f64, random: &mut Random) -> Vec<Note> {
    let mut notes = Vec::new();
    for (start_s, root) in chords(seconds, 4.0) {
        for beat in 0..4_u32 {
            let at_s = start_s + f64::from(beat) * BEAT_S;
            if beat % 2 == 0 {
                notes.push(touched(at_s, 1.9 * BEAT_S, 43.0 + root, 0.75, random));
            }
            for step in [12.0, 16.0, 19.0] {
                let velocity = if beat == 0 { 0.82 } else { 0.72 };
                notes.push(touched(at_s, 0.9 * BEAT_S, 50.0 + root + step, velocity, random));
            }
        }
    }
    notes
}

/// A single line that walks up and down the scale, with a rest at the end of each second bar.
fn line(seconds: f64, random: &mut Random, lowest: f64, beats_a_note: f64) -> Vec<Note> {
    let mut notes = Vec::new();
    let mut degree = 3_u8;
    let (mut beat, n_beats) = (0.0, seconds / BEAT_S);
    while beat < n_beats {
        let length = beats_a_note * *random.pick(&[0.5, 1.0, 1.0, 2.0]);
        if beat % 8.0 < 7.0 {
            let pitch =
                lowest + SCALE[usize::from(degree % 7)] + if degree >= 7 { 12.0 } else { 0.0 };
            let velocity = 0.76 + 0.015 * (f64::from(degree) - 4.0);
            let length_s = 0.92 * length * BEAT_S;
            notes.push(touched(beat * BEAT_S, length_s, pitch, velocity, random));
        }
        // Steps and thirds, the more likely homeward the further away.
        let home = (f64::from(degree) - 3.0) / 6.0;
        let up = random.unit() > 0.5 + home;
        let stride = *random.pick(&[1, 1, 2]);
        degree = if up { (degree + stride).min(9) } else { degree.saturating_sub(stride) };
        beat += length;
    }
    notes
}

/// Chords of four parts, two beats each.
fn choir(seconds: f64, random: &mut Random) -> Vec<Note> {
    let mut notes = Vec::new();
    for (start_s, root) in chords(seconds, 2.0) {
        let velocity = 0.78 + 0.025 * random.bell();
        for step in [-12.0, 0.0, 7.0, 16.0] {
            let length_s = 1.9 * BEAT_S;
            notes.push(Note { start_s, length_s, pitch: 54.0 + root + step, velocity });
        }
    }
    notes
}
