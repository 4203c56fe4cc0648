//! How loud sources are and how far preamplifiers are turned up.
//!
//! Takes a scene and its stems, gives a factor a source and a factor a channel, so that every loud level is what the scene
//! states. Never listens to spill: a preamplifier is set by its own source.

use crate::demo::{
    field::Field,
    scene::{Channel, Gain, Scene},
    stem::Stem,
};

/// Sound pressure level of a signal with an RMS of 1, in dB re 20 µPa: signals on the stage are pascals.
const PASCAL_DB_SPL: f64 = 94.0;

/// Full scale of a channel's own source, before the preamplifier.
#[derive(Clone, Copy, Debug)]
pub struct Own {
    /// Its loud level, as an RMS.
    pub loud_rms: f64,
    /// Its highest sample.
    pub peak: f64,
}

/// Levels of a scene.
#[derive(Clone, Debug)]
pub struct Levels {
    /// Factor from each source's stem to pascals at 1 m; 0 for a silent stem.
    pub pressure: Vec<f64>,
    /// Factor of each channel's preamplifier.
    pub preamp: Vec<f64>,
    /// Loud level of each channel's own sources behind the preamplifier, as an RMS; 0 if they never sound.
    pub loud_rms: Vec<f64>,
    /// Highest sample of each channel's own sources behind the preamplifier, about.
    pub peak: Vec<f64>,
}

/// A level at 1 m as a factor on a stem whose loud level is 1.
pub fn pascals(loud_db_spl: f64) -> f64 {
    10_f64.powf((loud_db_spl - PASCAL_DB_SPL) / 20.0)
}

/// A factor to a stem whose loud level is 1; 0 for a silent stem.
pub fn normal(stem: &Stem) -> f64 {
    if stem.loud_rms > 0.0 { 1.0 / stem.loud_rms } else { 0.0 }
}

impl Levels {
    /// The levels of a scene; `mic_of` is the place of each channel's microphone in the field, `emitter_of` that of each source.
    pub fn new(
        scene: &Scene,
        stems: &[Stem],
        field: &Field,
        mic_of: &[Option<usize>],
        emitter_of: &[Option<usize>],
    ) -> Self {
        let pressure: Vec<f64> = scene
            .sources
            .iter()
            .zip(stems)
            .map(|(source, stem)| normal(stem) * pascals(source.loud_db_spl))
            .collect();
        let own = |(channel, mic): (&Channel, &Option<usize>)| {
            let factor = |source_idx: usize| match (mic, emitter_of[source_idx]) {
                (Some(mic), Some(emitter)) => {
                    pressure[source_idx] * field.ways(*mic, emitter)[0].factor.abs()
                }
                _ => cable(scene, channel, source_idx) * normal(&stems[source_idx]),
            };
            own(scene, stems, channel, factor)
        };
        let owns: Vec<Own> = scene.channels.iter().zip(mic_of).map(own).collect();
        let preamp: Vec<f64> = scene
            .channels
            .iter()
            .zip(&owns)
            .map(|(channel, own)| preamp(channel.gain, *own))
            .collect();
        Self {
            loud_rms: owns.iter().zip(&preamp).map(|(own, gain)| own.loud_rms * gain).collect(),
            peak: owns.iter().zip(&preamp).map(|(own, gain)| own.peak * gain).collect(),
            preamp,
            pressure,
        }
    }
}

/// Factor of a source that comes in by cable; 0 if it doesn't.
pub fn cable(scene: &Scene, channel: &Channel, source_idx: usize) -> f64 {
    let name = &scene.sources[source_idx].name;
    let direct = channel.direct.iter().find(|direct| direct.source == *name);
    direct.map_or(0.0, |direct| 10_f64.powf(direct.level_db / 20.0))
}

/// Loud level and peak of a channel's own sources: powers add, the highest peak counts.
fn own(scene: &Scene, stems: &[Stem], channel: &Channel, factor: impl Fn(usize) -> f64) -> Own {
    let mut own = Own { loud_rms: 0.0, peak: 0.0 };
    for source_idx in channel.own.iter().filter_map(|name| scene.source_idx(name)) {
        let (factor, stem) = (factor(source_idx), &stems[source_idx]);
        own.loud_rms = own.loud_rms.hypot(factor * stem.loud_rms);
        own.peak = own.peak.max(factor * stem.peak);
    }
    own
}

fn preamp(gain: Gain, own: Own) -> f64 {
    let factor = |dbfs: f64, level: f64| {
        if level > 0.0 { 10_f64.powf(dbfs / 20.0) / level } else { 1.0 }
    };
    match gain {
        Gain::LoudDbfs(dbfs) => factor(dbfs, own.loud_rms),
        Gain::PeakDbfs(dbfs) => factor(dbfs, own.peak),
        Gain::FullScaleDbSpl(db_spl) => 10_f64.powf((PASCAL_DB_SPL - db_spl) / 20.0),
    }
}
