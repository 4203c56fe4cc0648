//! Writes every source's notes for the whole evening.
//!
//! Takes a scene, gives the notes of each source in order of time. Never renders a sound.

use std::ops::Range;

use crate::demo::{
    random::Random,
    scene::{Check, Part, Scene, Section, Song, Sound, SoundKind},
    score::{
        bar::{Bar, bars},
        melody::melody,
        rhythm::{bass, chords, click, drum},
        speech::utterances,
    },
    source::{Instrument, Note, phrase},
    stem::instrument,
};

/// Longest rest before a pattern begins, in seconds: a bar.
const LONGEST_REST_S: f64 = 2.2;

/// How much softer than in a song people play for a line check, as velocity: 2 dB (common practice).
const CHECK_SOFTER: f64 = 0.07;

/// Loudness of a shouted word: 4 dB above loud.
const SHOUT: f64 = 0.92;

/// The notes of every source of a scene, in the order of its sources; each in order of time.
pub fn write(scene: &Scene) -> Vec<Vec<Note>> {
    let notes_of = |source_idx: usize| {
        let source = &scene.sources[source_idx];
        // Drum heads, outputs and singers that belong together play from one sheet.
        let seed = Random::branch(scene.seed, sheet(source.part)).next_u64();
        let mut notes: Vec<Note> =
            scene.songs.iter().flat_map(|song| in_song(source.part, song, seed)).collect();
        let talks = scene.talks.iter().filter(|talk| talk.source == source.name);
        notes.extend(talks.flat_map(|talk| utterances(talk, seed)));
        let checks = scene.checks.iter().filter(|check| check.sources.contains(&source.name));
        notes.extend(checks.flat_map(|check| checked(source.part, source.singer, check, seed)));
        let sounds = scene.sounds.iter().filter(|sound| sound.source == source.name);
        notes.extend(sounds.map(sounded));
        notes.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
        notes.iter_mut().for_each(|note| note.pitch += 12.0 * f64::from(source.octave));
        notes
    };
    (0..scene.sources.len()).map(notes_of).collect()
}

/// Number of the sheet that a part plays from.
pub(in crate::demo) fn sheet(part: Part) -> u64 {
    let part = match part.main() {
        Part::Above | Part::Below => Part::Lead,
        part => part,
    };
    part as u64
}

fn in_song(part: Part, song: &Song, seed: u64) -> Vec<Note> {
    let bars = bars(song);
    let mut chance = Random::branch(seed, song.start_s.to_bits());
    let mut notes = Vec::new();
    for (section, range) in sections(song) {
        if section.parts.contains(&part) || part == Part::Click {
            notes.extend(in_section(part, &bars[range], seed, &mut chance));
        }
    }
    notes
}

/// The sections of a song, each with its bars' places.
fn sections(song: &Song) -> Vec<(&Section, Range<usize>)> {
    let mut first = 0;
    song.sections
        .iter()
        .map(|section| {
            let range = first..first + section.n_bars as usize;
            first = range.end;
            (section, range)
        })
        .collect()
}

fn in_section(part: Part, bars: &[Bar<'_>], seed: u64, chance: &mut Random) -> Vec<Note> {
    let each_bar =
        |play: &mut dyn FnMut(&Bar<'_>) -> Vec<Note>| bars.iter().flat_map(play).collect();
    match part {
        Part::Kick
        | Part::Snare
        | Part::SnareUnder
        | Part::Hat
        | Part::Rack
        | Part::Floor
        | Part::Crash
        | Part::Ride
        | Part::Cajon => each_bar(&mut |bar| drum(part, bar, chance)),
        Part::Bass => each_bar(&mut |bar| bass(bar, chance)),
        Part::Strum
        | Part::KeysLeft
        | Part::KeysRight
        | Part::Accordion
        | Part::OrganLeft
        | Part::OrganRight => each_bar(&mut |bar| chords(part, bar, chance)),
        Part::Riff | Part::Drive
            if bars.first().is_some_and(|bar| bar.section.solo != Some(part)) =>
        {
            each_bar(&mut |bar| chords(part, bar, chance))
        }
        Part::Click => each_bar(&mut |bar| click(bar)),
        Part::Lead
        | Part::Above
        | Part::Below
        | Part::Choir
        | Part::Fiddle
        | Part::Trumpet
        | Part::Riff
        | Part::Drive
        | Part::Cello
        | Part::Clarinet
        | Part::Sax => melody(part, bars, seed),
        Part::Pad | Part::Host | Part::Operator | Part::Playback | Part::Crowd | Part::Clap => {
            Vec::new()
        }
    }
}

/// What an input plays while it is heard alone: its typical material, cut to the time it has.
fn checked(part: Part, singer: u8, check: &Check, seed: u64) -> Vec<Note> {
    let length_s = check.end_s - check.start_s;
    let seed = Random::branch(seed, check.start_s.to_bits()).next_u64();
    let whole = Note { start_s: 0.0, length_s, pitch: 60.0, velocity: 0.8 };
    let notes = match instrument(part, singer) {
        Some(Instrument::Crash) | None => vec![whole],
        Some(instrument) => phrase(instrument, length_s + LONGEST_REST_S, seed),
    };
    // A pattern may start with rests: a check doesn't.
    let rest_s = notes.iter().map(|note| note.start_s).fold(f64::INFINITY, f64::min);
    notes
        .into_iter()
        .map(|note| Note { start_s: note.start_s - rest_s, ..note })
        .filter(|note| note.start_s < length_s)
        .map(|note| Note {
            start_s: note.start_s + check.start_s,
            length_s: note.length_s.min(length_s - note.start_s),
            velocity: (note.velocity - CHECK_SOFTER).max(0.05),
            ..note
        })
        .collect()
}

fn sounded(sound: &Sound) -> Note {
    let velocity = match sound.kind {
        SoundKind::Shout => SHOUT,
        SoundKind::Clap => 1.0,
        SoundKind::Playback | SoundKind::Held | SoundKind::Applause => 0.8,
    };
    Note {
        start_s: sound.start_s,
        length_s: sound.end_s - sound.start_s,
        pitch: sound.pitch_midi.map_or(60.0, f64::from),
        velocity,
    }
}
