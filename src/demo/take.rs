//! A take: the evening from stems to everything that is recorded, a piece at a time.
//!
//! Takes a scene, gives pieces of every raw channel and of what the desk made of them. The loudspeakers reach the room
//! microphones only: on stage they would close a loop. Never holds more than the stems and a piece of each channel.

use rayon::prelude::*;

use crate::{
    demo::{
        alone::{Alone, Stage},
        desk::{Mix, Mixer},
        fault::Faulty,
        field::{Field, PIECE},
        hall::Emitter,
        level::{Levels, cable, normal, pascals},
        random::Random,
        scene::{Channel, Microphone, Scene},
        stem::{Stem, stems},
    },
    session::Tap,
};

/// Way through desk and amplifiers to a wedge, in seconds (common practice for digital desks).
const WEDGE_LATENCY_S: f64 = 0.002;

/// Omnidirectional part of a wedge's or a loudspeaker's radiation.
const SPEAKER_OMNI: f64 = 0.6;

/// Level of a side of the main mix at which the scene states the loudspeakers' level, in dBFS RMS.
const SPEAKER_DBFS: f64 = -20.0;

/// A monitor mix at full scale gives so much at 1 m of its wedge, in dB re 20 µPa: 88 dB stand at -20 dBFS.
const WEDGE_FULL_DB_SPL: f64 = 108.0;

/// A take under way.
pub struct Take<'a> {
    scene: &'a Scene,
    stems: Vec<Stem>,
    emitter_of: Vec<Option<usize>>,
    mic_of: Vec<Option<usize>>,
    field: Field,
    audience: Option<Audience>,
    levels: Levels,
    faults: Vec<Vec<Faulty>>,
    mixer: Mixer,
    alone: Option<Alone>,
    piece: usize,
}

/// The loudspeakers and the microphones in the audience.
struct Audience {
    channels: Vec<usize>,
    field: Field,
    gain: f64,
}

/// A piece of everything that is recorded.
pub struct Piece {
    /// Every channel as it leaves its preamplifier.
    pub raw: Vec<Vec<f32>>,
    /// What the desk gives.
    pub mix: Mix,
    /// What each wedge is fed with.
    pub monitors: Vec<Vec<f32>>,
}

impl<'a> Take<'a> {
    /// A take at its start: all stems are rendered.
    pub fn new(scene: &'a Scene) -> Self {
        let stems = stems(scene);
        let (emitters, emitter_of) = emitters(scene);
        let (mics, mic_of) = mics(scene);
        let field_of = |emitters, mics: &[Microphone], branch: u64| {
            let seed = Random::branch(scene.seed, branch).next_u64();
            Field::new(&scene.hall, scene.temperature_c, scene.rate_hz, emitters, mics, seed)
        };
        let field = field_of(emitters, &mics, 1);
        let levels = Levels::new(scene, &stems, &field, &mic_of, &emitter_of);
        let channels: Vec<usize> = (0..scene.channels.len())
            .filter(|idx| scene.channels[*idx].tap == Tap::Room && mic_of[*idx].is_some())
            .collect();
        let speakers = !scene.hall.loudspeakers.is_empty() && !channels.is_empty();
        let audience = speakers.then(|| {
            let mics: Vec<Microphone> =
                channels.iter().filter_map(|idx| scene.channels[*idx].mic).collect();
            let gain = pascals(scene.hall.loudspeaker_db_spl) * 10_f64.powf(-SPEAKER_DBFS / 20.0);
            Audience { field: field_of(loudspeakers(scene), &mics, 2), gain, channels }
        });
        let faults = (0..scene.channels.len()).map(|idx| faults(scene, idx, &levels)).collect();
        Self {
            mixer: Mixer::new(scene),
            alone: scene.alone_told.then(|| Alone::new(scene)),
            scene,
            stems,
            emitter_of,
            mic_of,
            field,
            audience,
            levels,
            faults,
            piece: 0,
        }
    }

    /// The next piece, or `None` after the end; the last one is cut to the take's length.
    pub fn next_piece(&mut self) -> Option<Piece> {
        let first = self.piece * PIECE;
        let n = self.scene.length_samples().checked_sub(first).filter(|n| *n > 0)?.min(PIECE);
        self.piece += 1;
        let dry: Vec<Option<Vec<f32>>> =
            self.stems.par_iter().map(|stem| stem.piece(first, PIECE)).collect();
        self.hear_alone(&dry);
        let radiated = self.radiated(&dry);
        let monitors = self.monitors(&radiated, n);
        let mut heard = self.field.push(&radiated);
        heard.iter_mut().for_each(|heard| heard.truncate(n));
        let mut raw: Vec<Vec<f32>> = self
            .mic_of
            .iter()
            .map(|mic| mic.map_or_else(|| vec![0.0; n], |mic| heard[mic].clone()))
            .collect();
        let (scene, levels, stems) = (self.scene, &self.levels, &self.stems);
        raw.par_iter_mut().zip(&mut self.faults).enumerate().for_each(|(idx, (raw, faults))| {
            complete(scene, levels, stems, idx, &dry, raw, first);
            faults.iter_mut().for_each(|fault| fault.run(raw, first));
        });
        let mix = self.mixer.push(&raw);
        self.add_loudspeakers(&mix, &mut raw);
        Some(Piece { raw, mix, monitors })
    }

    /// The scene.
    pub fn scene(&self) -> &Scene {
        self.scene
    }

    /// The dry sounds, in the order of the sources.
    pub fn stems(&self) -> &[Stem] {
        &self.stems
    }

    /// The levels.
    pub fn levels(&self) -> &Levels {
        &self.levels
    }

    /// The desk, with what it has metered so far.
    pub fn mixer(&self) -> &Mixer {
        &self.mixer
    }

    /// What microphones hear, with the energies so far.
    pub fn field(&self) -> &Field {
        &self.field
    }

    /// What each thing gave by itself so far, where the scene wants it told.
    pub fn alone(&self) -> Option<&Alone> {
        self.alone.as_ref()
    }

    /// Place of a wedge in the field.
    pub fn emitter_of_wedge(&self, wedge_idx: usize) -> usize {
        self.emitter_of.iter().flatten().count() + wedge_idx
    }

    /// Place of a channel's microphone in the field.
    pub fn mic_of(&self, channel_idx: usize) -> Option<usize> {
        self.mic_of[channel_idx]
    }

    /// Place of a source in the field; wedges follow the sources.
    pub fn emitter_of(&self, source_idx: usize) -> Option<usize> {
        self.emitter_of[source_idx]
    }

    fn hear_alone(&mut self, dry: &[Option<Vec<f32>>]) {
        let Some(mut alone) = self.alone.take() else { return };
        let stage = Stage {
            scene: self.scene,
            stems: &self.stems,
            levels: &self.levels,
            field: &self.field,
            mic_of: &self.mic_of,
        };
        alone.push(&stage, dry, |dry| self.radiated(dry));
        self.alone = Some(alone);
    }

    /// What sources and wedges radiate, in pascals at 1 m.
    fn radiated(&self, dry: &[Option<Vec<f32>>]) -> Vec<Option<Vec<f32>>> {
        let sources = dry.iter().zip(&self.emitter_of).zip(&self.levels.pressure);
        let mut radiated: Vec<_> = sources
            .filter(|((_, emitter), _)| emitter.is_some())
            .map(|((dry, _), pressure)| dry.as_ref().map(|dry| scaled(dry, *pressure)))
            .collect();
        radiated.extend(self.scene.wedges.iter().map(|wedge| {
            let mut sum: Option<Vec<f32>> = None;
            for feed in &wedge.feeds {
                let Some(idx) = self.scene.source_idx(&feed.source) else { continue };
                let Some(dry) = &dry[idx] else { continue };
                let gain = normal(&self.stems[idx]) * pascals(feed.loud_db_spl);
                add(sum.get_or_insert_with(|| vec![0.0; PIECE]), dry, gain);
            }
            sum
        }));
        radiated
    }

    /// The mixes of the wedges, which follow the sources.
    fn monitors(&self, radiated: &[Option<Vec<f32>>], n: usize) -> Vec<Vec<f32>> {
        let factor = 1.0 / pascals(WEDGE_FULL_DB_SPL);
        let mix = |piece: &Option<Vec<f32>>| {
            piece.as_ref().map_or_else(|| vec![0.0; n], |piece| scaled(&piece[..n], factor))
        };
        radiated[radiated.len() - self.scene.wedges.len()..].iter().map(mix).collect()
    }

    fn add_loudspeakers(&mut self, mix: &Mix, raw: &mut [Vec<f32>]) {
        let Some(audience) = &mut self.audience else { return };
        let sides = mix.main.iter().cycle().take(self.scene.hall.loudspeakers.len());
        let pieces: Vec<Option<Vec<f32>>> = sides
            .map(|side| {
                let mut piece = scaled(side, audience.gain);
                piece.resize(PIECE, 0.0);
                Some(piece)
            })
            .collect();
        let heard = audience.field.push(&pieces);
        for (channel, heard) in audience.channels.iter().zip(heard) {
            add(&mut raw[*channel], &heard, self.levels.preamp[*channel]);
        }
    }
}

/// Sources that are on the stage, then wedges; and the place of each source among them.
fn emitters(scene: &Scene) -> (Vec<Emitter>, Vec<Option<usize>>) {
    let mut emitters = Vec::new();
    let mut emitter_of = Vec::new();
    for source in &scene.sources {
        emitter_of.push(source.at_m.map(|at_m| {
            let facing = source.facing.unwrap_or([0.0, -1.0, 0.0]);
            emitters.push(Emitter { at_m, facing, omni: source.omni, latency_s: 0.0 });
            emitters.len() - 1
        }));
    }
    emitters.extend(scene.wedges.iter().map(|wedge| Emitter {
        at_m: wedge.at_m,
        facing: crate::demo::geometry::minus(wedge.towards_m, wedge.at_m),
        omni: SPEAKER_OMNI,
        latency_s: WEDGE_LATENCY_S,
    }));
    (emitters, emitter_of)
}

fn loudspeakers(scene: &Scene) -> Vec<Emitter> {
    let speaker = |at_m: &[f64; 3]| Emitter {
        at_m: *at_m,
        facing: [0.0, -1.0, -0.1],
        omni: SPEAKER_OMNI,
        latency_s: 0.0,
    };
    scene.hall.loudspeakers.iter().map(speaker).collect()
}

/// The microphones, and the place of each channel's among them.
fn mics(scene: &Scene) -> (Vec<Microphone>, Vec<Option<usize>>) {
    let mut mics = Vec::new();
    let place = |channel: &Channel| {
        channel.mic.map(|mic| {
            mics.push(mic);
            mics.len() - 1
        })
    };
    let mic_of = scene.channels.iter().map(place).collect();
    (mics, mic_of)
}

fn faults(scene: &Scene, channel_idx: usize, levels: &Levels) -> Vec<Faulty> {
    let name = &scene.channels[channel_idx].name;
    let seed = Random::branch(scene.seed, 1000 + channel_idx as u64).next_u64();
    Faulty::of(&scene.faults, name, levels.loud_rms[channel_idx], scene.rate_hz, seed)
}

/// Adds cables, turns the preamplifier up, adds its noise.
#[expect(clippy::cast_possible_truncation, reason = "a sample in single precision")]
fn complete(
    scene: &Scene,
    levels: &Levels,
    stems: &[Stem],
    channel_idx: usize,
    dry: &[Option<Vec<f32>>],
    raw: &mut [f32],
    first: usize,
) {
    let channel = &scene.channels[channel_idx];
    for direct in &channel.direct {
        let Some(idx) = scene.source_idx(&direct.source) else { continue };
        if let Some(dry) = &dry[idx] {
            add(raw, dry, normal(&stems[idx]) * cable(scene, channel, idx));
        }
    }
    let gain = levels.preamp[channel_idx] as f32;
    raw.iter_mut().for_each(|x| *x *= gain);
    if let Some(noise_dbfs) = channel.noise_dbfs {
        let mut chance = Random::branch(scene.seed ^ first as u64, 2000 + channel_idx as u64);
        let rms = 10_f64.powf(noise_dbfs / 20.0);
        raw.iter_mut().for_each(|x| *x += (rms * chance.bell()) as f32);
    }
}

#[expect(clippy::cast_possible_truncation, reason = "a sample in single precision")]
fn scaled(samples: &[f32], factor: f64) -> Vec<f32> {
    let factor = factor as f32;
    samples.iter().map(|x| factor * x).collect()
}

#[expect(clippy::cast_possible_truncation, reason = "a sample in single precision")]
fn add(sum: &mut [f32], samples: &[f32], factor: f64) {
    let factor = factor as f32;
    for (sum, x) in sum.iter_mut().zip(samples) {
        *sum += factor * x;
    }
}
