//! Singers: one alone, or fourteen in a choir.
//!
//! Takes notes, each a syllable, gives voices with vibrato. The singers of a choir share the chord among themselves from the top down.

use crate::demo::random::Random;
use crate::demo::source::canvas::{Canvas, frequency_hz, strength, whole};
use crate::demo::source::filter::Filter;
use crate::demo::source::syllable::{Syllable, smooth};
use crate::demo::source::tract::{Person, Posture, STEP_S, utter};
use crate::demo::source::{Instrument, Note};

/// Singers in the choir.
const N_SINGERS: usize = 14;

/// Notes that begin within this belong to one chord, in seconds.
const CHORD_S: f64 = 0.05;

/// A gap of this length is a rest, in seconds.
const REST_S: f64 = 0.3;

/// How someone sings.
#[derive(Clone, Copy, Debug)]
struct Manner {
    effort_hz: f64,
    breath: f64,
    vibrato_cents: f64,
    /// Time for a note to build up and die away, in seconds.
    soft_s: f64,
}

const SOLO: Manner = Manner { effort_hz: 5000.0, breath: 0.012, vibrato_cents: 28.0, soft_s: 0.04 };
const CHOIR: Manner =
    Manner { effort_hz: 4000.0, breath: 0.015, vibrato_cents: 22.0, soft_s: 0.09 };

/// Renders one singer.
pub(super) fn render(
    instrument: Instrument,
    mut canvas: Canvas,
    notes: &[Note],
    size: f64,
    seed: u64,
) -> Vec<f32> {
    let tract = match instrument {
        Instrument::BackingVoice(number) => {
            Random::branch(0x0062_7678, u64::from(number)).between(1.0, 1.16)
        }
        _ => 1.08,
    };
    let postures = postures(&canvas, notes, SOLO, seed);
    let mut random = Random::branch(seed, u64::MAX);
    let mut singer = [Person::new(random.clone(), 0.0, 6.0)];
    random.next_u64();
    // A larger singer has a longer tract, so lower resonances.
    utter(&mut canvas, &postures, &mut singer, tract / size, random);
    let rate_hz = canvas.rate_hz;
    canvas.finish(
        -17.7,
        &mut [
            Filter::high_pass(rate_hz, 80.0, 0.7),
            Filter::peak(rate_hz, 650.0, 0.8, -3.5),
            Filter::peak(rate_hz, 2900.0, 1.0, 3.0),
            Filter::peak(rate_hz, 4300.0, 1.0, 6.0),
            Filter::high_shelf(rate_hz, 4500.0, 12.0),
        ],
    )
}

/// Renders the choir, or of it the one singer.
pub(super) fn render_choir(
    mut canvas: Canvas,
    notes: &[Note],
    only: Option<u8>,
    seed: u64,
) -> Vec<f32> {
    let chords = chords(notes);
    let mut parts: Vec<(Vec<Note>, Vec<usize>)> = Vec::new();
    for singer in 0..N_SINGERS {
        let part: Vec<Note> =
            chords.iter().map(|chord| chord[singer * chord.len() / N_SINGERS]).collect();
        match parts.iter_mut().find(|(notes, _)| *notes == part) {
            Some((_, singers)) => singers.push(singer),
            None => parts.push((part, vec![singer])),
        }
    }
    for (part, singers) in parts {
        let n_in_part = singers.len();
        let mut people: Vec<Person> = singers
            .into_iter()
            .filter(|&singer| only.is_none_or(|only| usize::from(only) == singer))
            .map(|singer| {
                let mut random = Random::branch(seed ^ 0x0063_686F_6972, singer as u64);
                let offset_cents = 9.0 * random.bell();
                Person::new(random, offset_cents, 7.0)
            })
            .collect();
        if people.is_empty() {
            continue;
        }
        let mean = part.iter().map(|note| note.pitch).sum::<f64>() / part.len().max(1) as f64;
        let size = if mean >= 60.0 { 1.15 } else { 1.0 };
        let mut postures = postures(&canvas, &part, CHOIR, seed);
        // As many singers, so much more power.
        let crowd = (people.len() as f64).sqrt();
        for posture in &mut postures {
            posture.voice *= crowd;
            posture.breath *= crowd;
            posture.hiss *= crowd;
        }
        let random = Random::branch(seed, n_in_part as u64 ^ part.len() as u64);
        utter(&mut canvas, &postures, &mut people, size, random);
    }
    let rate_hz = canvas.rate_hz;
    canvas.finish(
        -30.8,
        &mut [
            Filter::high_pass(rate_hz, 100.0, 0.7),
            Filter::peak(rate_hz, 650.0, 0.8, -3.5),
            Filter::peak(rate_hz, 4300.0, 1.0, 6.0),
            Filter::high_shelf(rate_hz, 4500.0, 12.0),
        ],
    )
}

/// Notes that begin together, highest first.
fn chords(notes: &[Note]) -> Vec<Vec<Note>> {
    let mut sorted = notes.to_vec();
    sorted.sort_by(|one, other| one.start_s.total_cmp(&other.start_s));
    let mut chords: Vec<Vec<Note>> = Vec::new();
    for note in sorted {
        match chords.last_mut() {
            Some(chord) if note.start_s - chord[0].start_s < CHORD_S => chord.push(note),
            _ => chords.push(vec![note]),
        }
    }
    for chord in &mut chords {
        chord.sort_by(|one, other| other.pitch.total_cmp(&one.pitch));
    }
    chords
}

/// The mouth of someone who sings these notes one after the other.
fn postures(canvas: &Canvas, notes: &[Note], manner: Manner, seed: u64) -> Vec<Posture> {
    let n_steps = whole(canvas.samples.len() as f64 / canvas.rate_hz / STEP_S) + 2;
    let mut postures = vec![Posture::REST; n_steps];
    let mut sung_s = f64::NEG_INFINITY;
    for (idx, note) in (0..).zip(notes) {
        let mut random = Random::branch(seed, idx);
        // After a rest the voice is there at once: an entry is heard when it is written.
        let rested = note.start_s - sung_s > REST_S;
        sung_s = note.start_s + note.length_s;
        let syllable =
            if rested { Syllable::open(&mut random) } else { Syllable::any(&mut random) };
        let (from_s, to_s) = (note.start_s, note.start_s + note.length_s);
        let loudness = strength(note.velocity);
        let pitch_hz = frequency_hz(note.pitch);
        let swell = 0.08 * random.bell();
        syllable.write(&mut postures, from_s, to_s, |time_s| {
            let (gone_s, rest_s) = (time_s - from_s, to_s - time_s);
            let edge = (gone_s / manner.soft_s + 0.3).min(rest_s / manner.soft_s).clamp(0.0, 1.0);
            let arch = 1.0 + swell * (std::f64::consts::PI * gone_s / note.length_s).sin();
            let scoop = 1.0 - 0.03 * (-gone_s / 0.05).exp();
            // Vibrato comes once the note stands.
            let depth = ((gone_s - 0.15) / 0.25).clamp(0.0, 1.0);
            Posture {
                pitch_hz: pitch_hz * scoop,
                voice: loudness * edge * arch,
                effort_hz: manner.effort_hz * loudness.powf(0.4),
                breath: manner.breath * loudness * edge,
                vibrato_cents: manner.vibrato_cents * depth,
                ..Posture::REST
            }
        });
    }
    smooth(&mut postures);
    postures
}
