//! What is true of a channel.
//!
//! Takes a take at its end, gives one record a channel. Never listens to recordings.

use serde::Serialize;

use super::{
    round::{decibels, hundredth},
    spill::{OwnAlone, own_alone},
};
use crate::{
    demo::{
        desk::Automation,
        record::file_name,
        scene::{Channel, Scene},
        take::Take,
    },
    session::{Role, Tap},
    unit::Span,
};

/// Figure of the coaching target for voices, in dB: reductions beyond it are counted (common practice).
const DEEP_DB: f32 = 10.5;

/// Step of the reductions, in seconds.
const REDUCTION_STEP_S: f64 = 0.010;

/// What is true of a channel.
#[derive(Clone, Debug, Serialize)]
pub struct ChannelTruth {
    /// Number in the file name.
    pub number: u32,
    /// Name on the desk.
    pub name: String,
    /// File of the recording.
    pub file: String,
    /// What it carries.
    pub role: Role,
    /// Where it is recorded.
    pub tap: Tap,
    /// Names of its own sources.
    pub own: Vec<String>,
    /// Loud level of its own sources alone, if they ever sound.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub own_loud_dbfs: Option<f64>,
    /// Gain of the preamplifier: from pascals for microphones, from a loud level of 0 dBFS for direct inputs.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub preamp_gain_db: Option<f64>,
    /// When its own sources sound.
    pub active: Vec<Span>,
    /// When it is open; empty where it doesn't feed the main mix.
    pub on: Vec<Span>,
    /// Corners of the fader's course; between two of them it moves evenly in dB, after the last it stays.
    pub fader: Vec<FaderPoint>,
    /// Pan, -1 to 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pan: Option<f64>,
    /// Corner of the high-pass, if it is on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub high_pass_hz: Option<f64>,
    /// Whether the desk flips its polarity.
    pub inverted: bool,
    /// What its compressor did while the own sources sounded.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub gain_reduction: Option<ReductionTruth>,
    /// What its own sources give in it by themselves, where the scene wants it told.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub own_alone: Option<OwnAlone>,
}

/// A corner of a fader's course.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct FaderPoint {
    /// When, in seconds.
    pub at_s: f64,
    /// Where it stands.
    pub fader_db: f64,
}

/// What a compressor did.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct ReductionTruth {
    /// Median gain reduction.
    pub median_db: f64,
    /// Its 90th percentile.
    pub p90_db: f64,
    /// Share of the time above 10.5 dB, 0 to 1.
    pub share_above_10_5_db: f64,
}

pub(super) fn from_take(scene: &Scene, take: &Take<'_>) -> Vec<ChannelTruth> {
    scene.channels.iter().enumerate().map(|(idx, channel)| one(scene, take, idx, channel)).collect()
}

fn one(scene: &Scene, take: &Take<'_>, idx: usize, channel: &Channel) -> ChannelTruth {
    let strip = take.mixer().strips()[idx].as_ref();
    let settings = channel.strip.as_ref();
    let active = active(scene, take, channel);
    let number = channel.number(idx);
    ChannelTruth {
        number,
        name: channel.name.clone(),
        file: file_name(number, &channel.name),
        role: channel.role,
        tap: channel.tap,
        own: channel.own.clone(),
        own_loud_dbfs: decibels(take.levels().loud_rms[idx]),
        preamp_gain_db: decibels(take.levels().preamp[idx]),
        on: strip.map_or_else(Vec::new, |strip| on(&strip.automation, scene.length_s)),
        fader: strip.map_or_else(Vec::new, |strip| fader(&strip.automation)),
        pan: settings.map(|settings| settings.pan),
        high_pass_hz: settings.and_then(|settings| settings.high_pass_hz),
        inverted: settings.is_some_and(|settings| settings.invert),
        own_alone: own_alone(scene, take, idx),
        gain_reduction: strip.and_then(|strip| reduction(&strip.reductions_db, &active)),
        active: active
            .iter()
            .map(|s| Span::new(hundredth(s.start_s), hundredth(s.end_s)))
            .collect(),
    }
}

/// When any of the own sources sounds.
fn active(scene: &Scene, take: &Take<'_>, channel: &Channel) -> Vec<Span> {
    let own = channel.own.iter().filter_map(|name| scene.source_idx(name));
    let mut spans: Vec<Span> =
        own.flat_map(|idx| take.stems()[idx].active.iter().copied()).collect();
    spans.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
    let mut joined: Vec<Span> = Vec::new();
    for span in spans {
        match joined.last_mut() {
            Some(last) if span.start_s <= last.end_s => last.end_s = last.end_s.max(span.end_s),
            _ => joined.push(span),
        }
    }
    joined
}

fn on(automation: &Automation, length_s: f64) -> Vec<Span> {
    let ends = automation.switches.iter().skip(1).map(|switch| switch.0).chain([length_s]);
    let mut on: Vec<Span> = Vec::new();
    for (switch, end_s) in automation.switches.iter().zip(ends) {
        match on.last_mut() {
            _ if !switch.1 => {}
            Some(last) if last.end_s >= switch.0 => last.end_s = end_s,
            _ => on.push(Span::new(switch.0, end_s)),
        }
    }
    on
}

fn fader(automation: &Automation) -> Vec<FaderPoint> {
    automation
        .points_db
        .iter()
        .map(|point| FaderPoint { at_s: point.0, fader_db: point.1 })
        .collect()
}

fn reduction(reductions_db: &[f32], active: &[Span]) -> Option<ReductionTruth> {
    let at_s = |idx: usize| (idx as f64 + 0.5) * REDUCTION_STEP_S;
    let mut sounding: Vec<f32> = reductions_db
        .iter()
        .enumerate()
        .filter(|(idx, _)| active.iter().any(|span| span.holds(at_s(*idx))))
        .map(|(_, reduction_db)| *reduction_db)
        .collect();
    sounding.sort_by(f32::total_cmp);
    let at = |percent: usize| sounding.get(sounding.len() * percent / 100).copied().map(f64::from);
    let deep = sounding.iter().filter(|reduction_db| **reduction_db > DEEP_DB).count();
    Some(ReductionTruth {
        median_db: hundredth(at(50)?),
        p90_db: hundredth(at(90)?),
        share_above_10_5_db: hundredth(deep as f64 / sounding.len() as f64),
    })
}
