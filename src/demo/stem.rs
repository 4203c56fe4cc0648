//! The dry sound of each source for the whole evening, kept only where it sounds.
//!
//! Takes a scene and its notes, gives stems: clips with silence between, their loud level, their peak and when they
//! sound. Never adds room or spill.

use rayon::prelude::*;

use crate::{
    demo::{
        random::Random,
        scene::{Part, Scene},
        score,
        source::{Instrument, Note, phrase, render, render_sized},
    },
    unit::Span,
};

/// Silence that ends a clip, in seconds.
const GAP_S: f64 = 3.0;

/// What a clip goes on after its last note, in seconds: cymbals ring that long.
const TAIL_S: f64 = 2.5;

/// Window of the loud level, in seconds, and its step.
const LOUD_WINDOW_S: f64 = 0.4;
const LOUD_STEP_S: f64 = 0.1;

/// Windows this far under the loudest don't count as sounding, in dB.
const SOUNDING_DB: f64 = 25.0;

/// Frame of the activity, in seconds; frames this far under the loud level are pauses, in dB.
const ACTIVE_FRAME_S: f64 = 0.02;
const ACTIVE_DB: f64 = 30.0;

/// Pauses shorter than this belong to the sound, in seconds.
const PAUSE_S: f64 = 0.3;

/// A stretch of sound.
#[derive(Clone, Debug)]
struct Clip {
    first: usize,
    samples: Vec<f32>,
}

/// The dry sound of a source.
#[derive(Clone, Debug, Default)]
pub struct Stem {
    clips: Vec<Clip>,
    /// 95th percentile of the RMS in 400 ms while it sounds; 0 if it never does.
    pub loud_rms: f64,
    /// Highest sample.
    pub peak: f64,
    /// When it sounds.
    pub active: Vec<Span>,
}

impl Stem {
    /// The samples from `first` on, or `None` if all are silent.
    pub fn piece(&self, first: usize, n: usize) -> Option<Vec<f32>> {
        let mut piece: Option<Vec<f32>> = None;
        for clip in &self.clips {
            let from = clip.first.max(first);
            let to = (clip.first + clip.samples.len()).min(first + n);
            if from < to {
                let piece = piece.get_or_insert_with(|| vec![0.0; n]);
                let sound = &clip.samples[from - clip.first..to - clip.first];
                for (out, x) in piece[from - first..to - first].iter_mut().zip(sound) {
                    *out += x;
                }
            }
        }
        piece
    }

    /// How long it sounds, in seconds.
    pub fn active_s(&self) -> f64 {
        self.active.iter().map(|span| span.end_s - span.start_s).sum()
    }
}

/// The instrument of a part; none for a mixed recording.
pub(super) fn instrument(part: Part, singer: u8) -> Option<Instrument> {
    Some(match part {
        Part::Kick => Instrument::Kick,
        Part::Snare => Instrument::SnareTop,
        Part::SnareUnder => Instrument::SnareBottom,
        Part::Hat => Instrument::HiHat,
        Part::Rack => Instrument::RackTom,
        Part::Floor => Instrument::FloorTom,
        Part::Crash => Instrument::Crash,
        Part::Ride => Instrument::Ride,
        Part::Cajon => Instrument::Cajon,
        Part::Bass => Instrument::Bass,
        Part::Strum => Instrument::AcousticGuitar,
        Part::Riff => Instrument::ElectricGuitar,
        Part::KeysLeft => Instrument::KeysLeft,
        Part::KeysRight => Instrument::KeysRight,
        Part::Pad => Instrument::SynthPad,
        Part::Fiddle => Instrument::Fiddle,
        Part::Trumpet => Instrument::Trumpet,
        Part::Lead => Instrument::LeadVoice,
        Part::Above | Part::Below => Instrument::BackingVoice(singer),
        Part::Choir => Instrument::ChoirSinger(singer),
        Part::Host => Instrument::Host,
        Part::Operator => Instrument::Talkback,
        Part::Click => Instrument::Click,
        Part::Crowd => Instrument::Applause,
        Part::Clap => Instrument::Clap,
        Part::Drive => Instrument::DrivenGuitar,
        Part::Cello => Instrument::Cello,
        Part::Clarinet => Instrument::Clarinet,
        Part::Sax => Instrument::Saxophone,
        Part::Accordion => Instrument::Accordion,
        Part::OrganLeft => Instrument::OrganLeft,
        Part::OrganRight => Instrument::OrganRight,
        Part::Playback => return None,
    })
}

/// The stems of a scene, in the order of its sources.
pub fn stems(scene: &Scene) -> Vec<Stem> {
    let sheets = score::write(scene);
    let jobs: Vec<(usize, &[Note])> = sheets
        .iter()
        .enumerate()
        .flat_map(|(idx, notes)| split(notes).into_iter().map(move |clip| (idx, clip)))
        .collect();
    let clips: Vec<(usize, Clip)> =
        jobs.into_par_iter().map(|(idx, notes)| (idx, clip(scene, idx, notes))).collect();
    let mut stems = vec![Stem::default(); scene.sources.len()];
    for (idx, clip) in clips {
        stems[idx].clips.push(clip);
    }
    stems.par_iter_mut().for_each(|stem| measure(stem, scene.rate_hz));
    stems
}

/// Cuts notes where they pause long.
fn split(notes: &[Note]) -> Vec<&[Note]> {
    let mut pieces = Vec::new();
    let mut first = 0;
    let mut end_s = f64::NEG_INFINITY;
    for (idx, note) in notes.iter().enumerate() {
        if idx > first && note.start_s > end_s + GAP_S {
            pieces.push(&notes[first..idx]);
            first = idx;
        }
        end_s = end_s.max(note.start_s + note.length_s);
    }
    if first < notes.len() {
        pieces.push(&notes[first..]);
    }
    pieces
}

fn clip(scene: &Scene, source_idx: usize, notes: &[Note]) -> Clip {
    let source = &scene.sources[source_idx];
    let rate_hz = f64::from(scene.rate_hz);
    let first = sample(notes[0].start_s.max(0.0) * rate_hz);
    let origin_s = first as f64 / rate_hz;
    let end_s = notes.iter().map(|note| note.start_s + note.length_s).fold(0.0, f64::max);
    let end = sample((end_s + TAIL_S) * rate_hz).min(scene.length_samples());
    let n = end.saturating_sub(first);
    let shifted: Vec<Note> = notes
        .iter()
        .map(|note| Note { start_s: (note.start_s - origin_s).max(0.0), ..*note })
        .collect();
    let seed = Random::branch(scene.seed ^ score::sheet(source.part), first as u64).next_u64();
    let samples = match instrument(source.part, source.singer) {
        Some(instrument) => render_sized(instrument, source.size, &shifted, n, scene.rate_hz, seed),
        None => mixed(&shifted, n, scene.rate_hz, seed),
    };
    Clip { first, samples }
}

/// A mixed recording with flat tops, as a video from anywhere: some instruments and a talker, too loud into a ceiling.
fn mixed(notes: &[Note], n: usize, rate_hz: u32, seed: u64) -> Vec<f32> {
    const PLAYERS: [Instrument; 6] = [
        Instrument::Kick,
        Instrument::SnareTop,
        Instrument::HiHat,
        Instrument::Bass,
        Instrument::KeysLeft,
        Instrument::Host,
    ];
    /// Ceiling against the RMS: 8 dB, every drum stroke meets it.
    const CEILING: f64 = 2.5;
    let rate = f64::from(rate_hz);
    let mut sum = vec![0.0_f32; n];
    for note in notes {
        let from = sample(note.start_s * rate).min(n);
        let to = sample((note.start_s + note.length_s) * rate).min(n);
        for (player, branch) in PLAYERS.into_iter().zip(0_u64..) {
            let seed = Random::branch(seed, branch).next_u64();
            let part = phrase(player, note.length_s, seed);
            for (out, x) in
                sum[from..to].iter_mut().zip(render(player, &part, to - from, rate_hz, seed))
            {
                *out += x;
            }
        }
    }
    let ceiling = single(CEILING * mean_square(&sum).sqrt());
    sum.iter_mut().for_each(|x| *x = x.clamp(-ceiling, ceiling));
    sum
}

fn measure(stem: &mut Stem, rate_hz: u32) {
    let rate = f64::from(rate_hz);
    let (window, step) = (sample(LOUD_WINDOW_S * rate), sample(LOUD_STEP_S * rate));
    let mut powers = Vec::new();
    for clip in &stem.clips {
        stem.peak = clip.samples.iter().fold(stem.peak, |peak, x| peak.max(f64::from(x.abs())));
        powers.extend(clip.samples.windows(window).step_by(step).map(mean_square));
    }
    let loudest = powers.iter().copied().fold(0.0, f64::max);
    powers.retain(|power| *power > loudest * 10_f64.powf(-SOUNDING_DB / 10.0));
    powers.sort_by(f64::total_cmp);
    let Some(loud) = powers.get(powers.len() * 95 / 100) else {
        // Shorter than one window: a check of half a second, a clap.
        stem.loud_rms =
            stem.clips.iter().map(|clip| mean_square(&clip.samples)).fold(0.0, f64::max).sqrt();
        return find_active(stem, rate);
    };
    stem.loud_rms = loud.sqrt();
    find_active(stem, rate);
}

fn find_active(stem: &mut Stem, rate: f64) {
    let floor = stem.loud_rms * stem.loud_rms * 10_f64.powf(-ACTIVE_DB / 10.0);
    if floor <= 0.0 {
        return;
    }
    for clip in &stem.clips {
        for (idx, frame) in clip.samples.chunks(sample(ACTIVE_FRAME_S * rate)).enumerate() {
            let start_s = clip.first as f64 / rate + idx as f64 * ACTIVE_FRAME_S;
            let end_s = start_s + ACTIVE_FRAME_S;
            if mean_square(frame) < floor {
                continue;
            }
            match stem.active.last_mut() {
                Some(last) if start_s - last.end_s <= PAUSE_S => last.end_s = end_s,
                _ => stem.active.push(Span { start_s, end_s }),
            }
        }
    }
}

pub(super) fn mean_square(samples: &[f32]) -> f64 {
    let sum: f64 = samples.iter().map(|x| f64::from(*x) * f64::from(*x)).sum();
    sum / samples.len().max(1) as f64
}

#[expect(clippy::cast_possible_truncation, reason = "a sample in single precision")]
fn single(x: f64) -> f32 {
    x as f32
}

/// A place in samples.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a place in a take, never negative, far below 2^53"
)]
pub(super) fn sample(place: f64) -> usize {
    place.round().max(0.0) as usize
}
