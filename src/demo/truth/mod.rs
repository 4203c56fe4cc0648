//! What is true of a rendered take: what is planted, who sounded when, what the desk did, who spilled where.
//!
//! Written beside the recordings as `truth.json`, rounded, so that a review can be compared with it. A new fact is a field of
//! a type here, filled in by its `from_take`.

mod channel;
mod pair;
mod round;
mod spill;

use serde::Serialize;

pub use channel::{ChannelTruth, FaderPoint, ReductionTruth};
pub use pair::{PairTruth, WedgeTruth};
pub use spill::{OwnAlone, SpillTruth};

use crate::{
    demo::{
        scene::{Expected, Planted, Scene, Segment, Strength, Trap},
        take::Take,
    },
    unit::Span,
};
use round::hundredth;

/// Version of the format.
const SCHEMA: u32 = 1;

/// All that is true of a take.
#[derive(Clone, Debug, Serialize)]
pub struct Truth<'a> {
    /// Version of the format.
    pub schema: u32,
    /// Name of the scene.
    pub scene: &'a str,
    /// Its seed.
    pub seed: u64,
    /// Length, in seconds.
    pub length_s: f64,
    /// What happens when.
    pub segments: &'a [Segment],
    /// What is to be found.
    pub planted: &'a [Planted],
    /// What was done well.
    pub strengths: &'a [Strength],
    /// What must stay silent.
    pub traps: &'a [Trap],
    /// What a review should show.
    pub expected: Option<&'a Expected>,
    /// Decay times of the hall.
    pub decay: Vec<DecayTruth>,
    /// Every channel.
    pub channels: Vec<ChannelTruth>,
    /// How sources spill.
    pub pairs: Vec<PairTruth>,
    /// What every channel's own sources give in every other, where the scene wants it told.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub spill: Vec<SpillTruth>,
    /// Where wedges stand to microphones.
    pub wedges: Vec<WedgeTruth>,
    /// Who was how loud in the main mix, for each segment and each stretch with something planted.
    pub balance: Vec<Balance>,
}

/// Decay time in an octave.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct DecayTruth {
    /// Middle of the octave, in Hz.
    pub octave_hz: f64,
    /// Time in which the sound falls by 60 dB, in seconds.
    pub t60_s: f64,
}

/// Who was how loud in the main mix over a stretch: mean, without gates.
#[derive(Clone, Debug, Serialize)]
pub struct Balance {
    /// Begin, in seconds.
    pub start_s: f64,
    /// End, in seconds.
    pub end_s: f64,
    /// The main mix.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub main_lufs: Option<f64>,
    /// The effect's return.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub effect_lufs: Option<f64>,
    /// The channels above -70 LUFS.
    pub channels: Vec<ChannelBalance>,
}

/// How loud a channel was in the main mix.
#[derive(Clone, Debug, Serialize)]
pub struct ChannelBalance {
    /// Name of the channel.
    pub name: String,
    /// Its part of the main mix.
    pub lufs: f64,
}

impl<'a> Truth<'a> {
    /// The truth of a take that has come to its end.
    pub fn from_take(scene: &'a Scene, take: &Take<'_>) -> Self {
        Self {
            schema: SCHEMA,
            scene: &scene.name,
            seed: scene.seed,
            length_s: scene.length_s,
            segments: &scene.segments,
            planted: &scene.planted,
            strengths: &scene.strengths,
            traps: &scene.traps,
            expected: scene.expected.as_ref(),
            decay: scene
                .hall
                .decay
                .iter()
                .map(|decay| DecayTruth { octave_hz: decay.octave_hz, t60_s: decay.t60_s })
                .collect(),
            channels: channel::from_take(scene, take),
            pairs: pair::from_take(scene, take),
            spill: spill::from_take(scene, take),
            wedges: pair::wedges(scene),
            balance: spans(scene).iter().map(|span| balance(scene, take, *span)).collect(),
        }
    }
}

/// Segments and stretches with something planted, in order, each once.
fn spans(scene: &Scene) -> Vec<Span> {
    let segments = scene.segments.iter().map(|segment| Span::new(segment.start_s, segment.end_s));
    let planted = scene.planted.iter().filter_map(|p| Some(Span::new(p.start_s?, p.end_s?)));
    let strengths = scene.strengths.iter().map(|s| Span::new(s.start_s, s.end_s));
    let mut spans: Vec<Span> = segments.chain(planted).chain(strengths).collect();
    spans.sort_by(|a, b| a.start_s.total_cmp(&b.start_s).then(b.end_s.total_cmp(&a.end_s)));
    spans.dedup();
    spans
}

fn balance(scene: &Scene, take: &Take<'_>, span: Span) -> Balance {
    let mixer = take.mixer();
    let channel = |(idx, channel): (usize, &crate::demo::scene::Channel)| {
        let lufs = mixer.channel_lufs(idx, span.start_s, span.end_s)?;
        Some(ChannelBalance { name: channel.name.clone(), lufs: hundredth(lufs) })
    };
    Balance {
        start_s: span.start_s,
        end_s: span.end_s,
        main_lufs: mixer.main_lufs(span.start_s, span.end_s).map(hundredth),
        effect_lufs: mixer.effect_lufs(span.start_s, span.end_s).map(hundredth),
        channels: scene.channels.iter().enumerate().filter_map(channel).collect(),
    }
}
