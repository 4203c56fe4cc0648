//! What every channel's own sources give in it and in all other channels.
//!
//! Takes a take at its end whose things were rendered alone. Powers are of everything that comes from the source: direct sound,
//! reflections, tail, and what wedges play of it, over the whole take. Never a sum of sources that share a microphone by chance.

use serde::Serialize;

use super::round::{hundredth, tenth};
use crate::demo::{
    alone::{Alone, FRAME, Thing},
    geometry::speed_of_sound_m_s,
    level::pascals,
    scene::Scene,
    take::Take,
};

/// Below this a frame counts as silent: far under the noise of any input.
const FLOOR_DBFS: f64 = -140.0;

/// The straight way is the loudest if it exceeds every other by this factor of pressure: 3 dB.
const LOUDEST: f64 = 1.4;

/// What a channel's own sources give in it by themselves.
#[derive(Clone, Debug, Serialize)]
pub struct OwnAlone {
    /// Name of the first channel that holds the same thing: stereo sides, both ends of a drum, cable and microphone share it.
    pub thing: String,
    /// Whether a microphone hears it.
    pub is_mic: bool,
    /// Time from one frame to the next, in seconds.
    pub step_s: f64,
    /// Level of the sources alone in each frame, as an RMS; none where they are silent.
    pub level_dbfs: Vec<Option<f64>>,
}

/// How a channel's own sources reach another channel.
#[derive(Clone, Debug, Serialize)]
pub struct SpillTruth {
    /// The channel whose own sources they are.
    pub source: String,
    /// The other channel.
    pub mic: String,
    /// Whether both hold the same thing: then the other is no stranger, and nothing is spill.
    pub one_thing: bool,
    /// Level there minus that of the other channel's own sources there.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bleed_db: Option<f64>,
    /// Level there minus their level in their own channel, both behind the preamplifier.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub transfer_db: Option<f64>,
    /// Arrival of the direct sound there minus arrival in their own channel, positive = later; a cable takes no time. None if there
    /// are several sources, or no straight way.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub delay_s: Option<f64>,
    /// Sign of the direct sound there against their own channel, 1 or -1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub polarity: Option<i32>,
    /// Whether that direct sound is 3 dB louder there than each reflection and what each wedge plays.
    pub is_direct_loudest: bool,
}

/// Where a source arrives by itself.
struct Arrival {
    at_s: f64,
    sign: i32,
    is_loudest: bool,
}

pub(super) fn own_alone(scene: &Scene, take: &Take<'_>, channel: usize) -> Option<OwnAlone> {
    let alone = take.alone()?;
    let thing_idx = alone.things().iter().position(|thing| thing.channels.contains(&channel))?;
    let reference = alone.things()[thing_idx].channels[0];
    let n_frames = scene.length_samples().div_ceil(FRAME);
    let level = |power: &f32| {
        let level_dbfs = 10.0 * f64::from(*power).log10();
        (level_dbfs > FLOOR_DBFS).then(|| tenth(level_dbfs))
    };
    Some(OwnAlone {
        thing: scene.channels[reference].name.clone(),
        is_mic: take.mic_of(channel).is_some(),
        step_s: FRAME as f64 / f64::from(scene.rate_hz),
        level_dbfs: alone.powers(thing_idx, channel).iter().take(n_frames).map(level).collect(),
    })
}

pub(super) fn from_take(scene: &Scene, take: &Take<'_>) -> Vec<SpillTruth> {
    let Some(alone) = take.alone() else { return Vec::new() };
    let mut rows = Vec::new();
    for (thing_idx, thing) in alone.things().iter().enumerate() {
        for source in &thing.channels {
            let others = (0..scene.channels.len()).filter(|mic| mic != source);
            rows.extend(
                others.map(|mic| row(scene, take, alone, (thing_idx, thing, *source), mic)),
            );
        }
    }
    rows
}

fn row(
    scene: &Scene,
    take: &Take<'_>,
    alone: &Alone,
    (thing_idx, thing, source): (usize, &Thing, usize),
    mic: usize,
) -> SpillTruth {
    let there = alone.power(thing_idx, mic);
    let against = |power: f64| {
        let is_told = there > 0.0 && power > 0.0;
        is_told.then(|| hundredth(10.0 * (there / power).log10()))
    };
    let one_thing = thing.channels.contains(&mic);
    let resident = alone.things().iter().position(|other| other.channels.contains(&mic));
    let resident = resident.filter(|_| !one_thing).map_or(0.0, |idx| alone.power(idx, mic));
    let mut sources = scene.channels[source].own.iter().filter_map(|name| scene.source_idx(name));
    let single = sources.next().filter(|_| sources.next().is_none());
    let arrivals = single.and_then(|own| {
        Some((arrival(scene, take, own, source)?, arrival(scene, take, own, mic)?))
    });
    // To a two-hundredth of a sample.
    let rounded = |s: f64| (s * 1e7).round() / 1e7;
    SpillTruth {
        source: scene.channels[source].name.clone(),
        mic: scene.channels[mic].name.clone(),
        one_thing,
        bleed_db: against(resident),
        transfer_db: against(alone.power(thing_idx, source)),
        delay_s: arrivals.as_ref().map(|(own, there)| rounded(there.at_s - own.at_s)),
        polarity: arrivals.as_ref().map(|(own, there)| own.sign * there.sign),
        is_direct_loudest: arrivals
            .as_ref()
            .is_some_and(|(own, there)| own.is_loudest && there.is_loudest),
    }
}

/// Arrival of a source in a channel; none if it has no straight way there.
fn arrival(scene: &Scene, take: &Take<'_>, source: usize, channel: usize) -> Option<Arrival> {
    let name = &scene.sources[source].name;
    if scene.channels[channel].direct.iter().any(|direct| direct.source == *name) {
        return Some(Arrival { at_s: 0.0, sign: 1, is_loudest: true });
    }
    let (mic, emitter) = (take.mic_of(channel)?, take.emitter_of(source)?);
    let ways = take.field().ways(mic, emitter);
    let pressure = pascals(scene.sources[source].loud_db_spl);
    let reflected = ways.iter().skip(1).map(|way| pressure * way.factor.abs());
    let played = scene.wedges.iter().enumerate().flat_map(|(idx, wedge)| {
        let feeds = wedge.feeds.iter().filter(|feed| feed.source == *name);
        let way = take.field().ways(mic, take.emitter_of_wedge(idx))[0];
        feeds.map(move |feed| pascals(feed.loud_db_spl) * way.factor.abs())
    });
    let others = reflected.chain(played).fold(0.0, f64::max);
    Some(Arrival {
        at_s: ways[0].distance_m / speed_of_sound_m_s(scene.temperature_c),
        sign: if ways[0].factor < 0.0 { -1 } else { 1 },
        is_loudest: pressure * ways[0].factor.abs() > LOUDEST * others,
    })
}
