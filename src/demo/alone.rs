//! What each thing on the stage gives in every channel by itself.
//!
//! A thing is what some channels call their own: a voice, both heads of a snare, both sides of a piano. Takes the dry sounds a
//! piece at a time, renders each thing alone, gives its power in frames behind every preamplifier. Never keeps the sound.

use rayon::prelude::*;

use crate::demo::{
    field::{Field, PIECE, Past},
    level::{Levels, cable, normal},
    scene::Scene,
    stem::{Stem, mean_square},
};

/// Samples in a frame: 43 ms at 48 kHz.
pub const FRAME: usize = 2048;

/// Something on the stage, with all that hears it at close range.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Thing {
    /// The channels that call it their own; the first is its reference.
    pub channels: Vec<usize>,
    /// Its sources.
    pub sources: Vec<usize>,
}

/// The things of a scene, in the order of their references. Channels belong together if they share a source, or hold two sides
/// of one.
pub fn things(scene: &Scene) -> Vec<Thing> {
    let mut things: Vec<Thing> = Vec::new();
    for (channel, own) in scene.channels.iter().map(|channel| &channel.own).enumerate() {
        let sources: Vec<usize> = own.iter().filter_map(|name| scene.source_idx(name)).collect();
        if sources.is_empty() {
            continue;
        }
        let is_related = |thing: &Thing| {
            let pairs = thing.sources.iter().flat_map(|a| sources.iter().map(move |b| (*a, *b)));
            pairs.into_iter().any(|(a, b)| a == b || are_sides(scene, a, b))
        };
        let (related, others): (Vec<Thing>, Vec<Thing>) = things.into_iter().partition(is_related);
        things = others;
        let mut joined = Thing { channels: vec![channel], sources };
        for thing in related {
            joined.channels.extend(thing.channels);
            joined.sources.extend(thing.sources);
        }
        joined.channels.sort_unstable();
        joined.sources.sort_unstable();
        joined.sources.dedup();
        things.push(joined);
    }
    things.sort_by_key(|thing| thing.channels[0]);
    things
}

fn are_sides(scene: &Scene, a: usize, b: usize) -> bool {
    let (a, b) = (scene.sources[a].part, scene.sources[b].part);
    a != b && a.main() == b.main()
}

/// The things of a take under way, with what they gave so far.
pub struct Alone {
    things: Vec<Thing>,
    pasts: Vec<Past>,
    /// Power behind the preamplifier, by thing, channel and frame.
    powers: Vec<Vec<Vec<f32>>>,
}

impl Alone {
    /// The things of a scene, before anything sounded.
    pub fn new(scene: &Scene) -> Self {
        let things = things(scene);
        Self {
            pasts: vec![Past::default(); things.len()],
            powers: vec![vec![Vec::new(); scene.channels.len()]; things.len()],
            things,
        }
    }

    /// The things.
    pub fn things(&self) -> &[Thing] {
        &self.things
    }

    /// Mean power of a thing in a channel in each frame, re digital full scale (RMS squared).
    pub fn powers(&self, thing: usize, channel: usize) -> &[f32] {
        &self.powers[thing][channel]
    }

    /// Mean power of a thing in a channel over the take.
    pub fn power(&self, thing: usize, channel: usize) -> f64 {
        let powers = self.powers(thing, channel);
        powers.iter().map(|power| f64::from(*power)).sum::<f64>() / powers.len().max(1) as f64
    }

    /// Renders the next piece of each thing; `radiated` gives what leaves the stage's emitters when only these sources sound.
    pub(super) fn push(
        &mut self,
        on: &Stage<'_>,
        dry: &[Option<Vec<f32>>],
        radiated: impl Fn(&[Option<Vec<f32>>]) -> Vec<Option<Vec<f32>>>,
    ) {
        for ((thing, past), powers) in self.things.iter().zip(&mut self.pasts).zip(&mut self.powers)
        {
            let mine: Vec<Option<Vec<f32>>> = dry
                .iter()
                .enumerate()
                .map(|(idx, dry)| dry.clone().filter(|_| thing.sources.contains(&idx)))
                .collect();
            let pieces = radiated(&mine);
            let is_heard = !past.is_silent() || pieces.iter().any(Option::is_some);
            let heard = if is_heard { on.field.alone(&pieces, past) } else { Vec::new() };
            powers.par_iter_mut().enumerate().for_each(|(channel, powers)| {
                let heard = on.mic_of[channel].and_then(|mic| heard.get(mic));
                powers.extend(on.frames(channel, heard, &mine));
            });
        }
    }
}

/// Where things sound.
pub(super) struct Stage<'a> {
    /// The scene.
    pub(super) scene: &'a Scene,
    /// The dry sounds.
    pub(super) stems: &'a [Stem],
    /// The levels.
    pub(super) levels: &'a Levels,
    /// The hall.
    pub(super) field: &'a Field,
    /// Place of each channel's microphone in the field.
    pub(super) mic_of: &'a [Option<usize>],
}

impl Stage<'_> {
    /// Power in the frames of a piece, by air and by cable.
    #[expect(clippy::cast_possible_truncation, reason = "a power in single precision")]
    fn frames(
        &self,
        channel: usize,
        heard: Option<&Vec<f32>>,
        dry: &[Option<Vec<f32>>],
    ) -> Vec<f32> {
        let mut sum = heard.cloned().unwrap_or_else(|| vec![0.0; PIECE]);
        for (idx, dry) in dry.iter().enumerate() {
            let Some(dry) = dry else { continue };
            let factor =
                normal(&self.stems[idx]) * cable(self.scene, &self.scene.channels[channel], idx);
            sum.iter_mut().zip(dry).for_each(|(sum, x)| *sum += factor as f32 * x);
        }
        let gain = self.levels.preamp[channel].powi(2);
        sum.chunks(FRAME).map(|frame| (gain * mean_square(frame)) as f32).collect()
    }
}
