//! How sources reach microphones that aren't theirs.
//!
//! Takes a take at its end, gives a record for each source and foreign microphone, and for each wedge and microphone. Levels are
//! energies of direct sound, reflections and tail over the time the source sounds, whatever else sounds then.

use serde::Serialize;

use super::round::{decibels, hundredth, millionth};
use crate::demo::{
    geometry::{cosine, minus, pattern_factor},
    hall::omni,
    scene::{Pattern, Scene},
    take::Take,
};
use crate::dsp::air::speed_of_sound_m_s;

/// How a source reaches a microphone that isn't its own.
#[derive(Clone, Debug, Serialize)]
pub struct PairTruth {
    /// Name of the source.
    pub source: String,
    /// Channel of the source's own microphone.
    pub own: String,
    /// Channel of the microphone that hears it too.
    pub mic: String,
    /// Level there minus that of the microphone's own source there.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bleed_db: Option<f64>,
    /// Level there minus its level in its own microphone, both behind the preamplifier.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub transfer_db: Option<f64>,
    /// Arrival there minus arrival in its own microphone, positive = later.
    pub delay_s: f64,
    /// Sign of the direct sound there against its own microphone, 1 or -1.
    pub polarity: i32,
}

/// Where a wedge stands to a microphone.
#[derive(Clone, Debug, Serialize)]
pub struct WedgeTruth {
    /// Name of the wedge.
    pub wedge: String,
    /// Channel of the microphone.
    pub mic: String,
    /// Angle off the microphone's axis.
    pub angle_deg: f64,
    /// Nominal attenuation of the pattern, positive; none at a null.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub attenuation_db: Option<f64>,
}

pub(super) fn from_take(scene: &Scene, take: &Take<'_>) -> Vec<PairTruth> {
    let mut pairs = Vec::new();
    for (own_idx, own) in scene.channels.iter().enumerate() {
        let mine = own.own.iter().filter_map(|name| scene.source_idx(name));
        // The first microphone that calls a source its own is the source's reference.
        for source_idx in mine.filter(|source| reference(scene, take, *source) == Some(own_idx)) {
            let mics = (0..scene.channels.len()).filter(|mic| *mic != own_idx);
            pairs.extend(mics.filter_map(|mic| pair(scene, take, source_idx, own_idx, mic)));
        }
    }
    pairs
}

/// The channel whose microphone is a source's own.
fn reference(scene: &Scene, take: &Take<'_>, source_idx: usize) -> Option<usize> {
    let name = &scene.sources[source_idx].name;
    (0..scene.channels.len())
        .find(|idx| take.mic_of(*idx).is_some() && scene.channels[*idx].own.contains(name))
}

fn pair(
    scene: &Scene,
    take: &Take<'_>,
    source_idx: usize,
    own_idx: usize,
    mic_idx: usize,
) -> Option<PairTruth> {
    let emitter = take.emitter_of(source_idx)?;
    let (own, mic) = (take.mic_of(own_idx)?, take.mic_of(mic_idx)?);
    let ways = [take.field().ways(own, emitter)[0], take.field().ways(mic, emitter)[0]];
    let speed_m_s = speed_of_sound_m_s(scene.temperature_c);
    let there = level(take, source_idx, mic_idx);
    let against = |level: f64| if level > 0.0 { decibels(there / level) } else { None };
    let residents = scene.channels[mic_idx].own.iter().filter_map(|name| scene.source_idx(name));
    let resident = residents.map(|idx| level(take, idx, mic_idx)).fold(0.0, f64::hypot);
    Some(PairTruth {
        source: scene.sources[source_idx].name.clone(),
        own: scene.channels[own_idx].name.clone(),
        mic: scene.channels[mic_idx].name.clone(),
        bleed_db: against(resident),
        transfer_db: against(level(take, source_idx, own_idx)),
        delay_s: millionth((ways[1].distance_m - ways[0].distance_m) / speed_m_s),
        polarity: if ways[0].factor * ways[1].factor < 0.0 { -1 } else { 1 },
    })
}

/// RMS of a source in a channel while it sounds, behind the preamplifier and in a scale that all share; 0 if it can't be.
fn level(take: &Take<'_>, source_idx: usize, channel_idx: usize) -> f64 {
    let active_s = take.stems()[source_idx].active_s();
    match (take.mic_of(channel_idx), take.emitter_of(source_idx)) {
        (Some(mic), Some(emitter)) if active_s > 0.0 => {
            let energy = take.field().energy(mic, emitter);
            (energy / active_s).sqrt() * take.levels().preamp[channel_idx]
        }
        _ => 0.0,
    }
}

pub(super) fn wedges(scene: &Scene) -> Vec<WedgeTruth> {
    let mut wedges = Vec::new();
    for wedge in &scene.wedges {
        for channel in &scene.channels {
            let Some(mic) = channel.mic.filter(|mic| mic.pattern != Pattern::Omni) else {
                continue;
            };
            let cosine = cosine(mic.axis, minus(wedge.at_m, mic.at_m));
            wedges.push(WedgeTruth {
                wedge: wedge.name.clone(),
                mic: channel.name.clone(),
                angle_deg: hundredth(cosine.clamp(-1.0, 1.0).acos().to_degrees()),
                attenuation_db: decibels(pattern_factor(omni(mic.pattern), cosine).abs())
                    .map(|db| -db),
            });
        }
    }
    wedges
}
