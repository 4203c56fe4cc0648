//! A rendered stage under a drawn desk: mixed, reviewed and scored.

use std::fs;
use std::path::Path;

use deskside::audio::TrustHeader;
use deskside::run;
use deskside::session::Session;
use deskside::unit::Span;
use serde::Deserialize;

use super::super::truth::{ACTIVE_DB, Alone, is_close};
use super::desk::{Desk, Kind};
use super::draw::{OnStage, desk};
use super::score::{Stage, score, told, whole};
use super::strip::Strip;
use super::table::Row;
use super::witness;

/// What the truth of a stage tells.
#[derive(Deserialize)]
struct Truth {
    scene: String,
    length_s: f64,
    segments: Vec<Segment>,
    channels: Vec<Channel>,
}

#[derive(Deserialize)]
struct Segment {
    kind: String,
    #[serde(flatten)]
    span: Stretch,
}

#[derive(Deserialize)]
struct Channel {
    #[serde(flatten)]
    on_stage: OnStage,
    active: Vec<Stretch>,
    own_alone: Option<Alone>,
}

#[derive(Clone, Copy, Deserialize)]
struct Stretch {
    start_s: f64,
    end_s: f64,
}

impl Stretch {
    fn span(self) -> Span {
        Span::new(self.start_s, self.end_s)
    }
}

/// Mixes a rendered stage with a desk of a kind, reads it back and scores that.
pub(crate) fn row(stage: &Path, kind: Kind, seed: u64) -> Row {
    let text = fs::read_to_string(stage.join("truth.json")).expect("a rendered stage");
    let truth: Truth = serde_json::from_str(&text).expect("a truth");
    let on_stage: Vec<OnStage> =
        truth.channels.iter().map(|channel| channel.on_stage.clone()).collect();
    let desk = desk(&on_stage, truth.length_s, kind, seed);
    let folder = stage.with_file_name(format!("{}-{}", truth.scene, kind.word()));
    let mixed = desk.mix(stage, &folder);
    let known = known(&truth, &desk);
    let session = Session::open(&folder, TrustHeader::No).expect("recordings of a stage");
    let reading = run::read(&session, TrustHeader::No, &|_| {}).expect("a reading of the mix");
    let mut review = score(&desk, &mixed, &told(&reading));
    whole(&mut review, &desk, &mixed, &reading, &known);
    let witnesses = witness::told(&desk, &folder).map(|told| score(&desk, &mixed, &told));
    Row { stage: truth.scene, kind, review, witnesses }
}

/// Songs that follow each other faster than this are one: a rest within a song may last as long, in seconds.
const ONE_SONG_S: f64 = 3.0;

/// A shorter song is none, in seconds.
const SHORTEST_S: f64 = 20.0;

fn known(truth: &Truth, desk: &Desk) -> Stage {
    let channel =
        |strip: &Strip| truth.channels.iter().find(|channel| channel.on_stage.name == strip.name);
    let active: Vec<Vec<Span>> = desk
        .strips
        .iter()
        .map(|strip| {
            let played = channel(strip).into_iter().flat_map(|channel| &channel.active);
            played.map(|stretch| stretch.span()).collect()
        })
        .collect();
    let mut songs: Vec<Span> = Vec::new();
    for song in truth.segments.iter().filter(|segment| segment.kind == "song") {
        let song = song.span.span();
        let played = active.iter().flatten().filter(|span| song.holds(span.start_s));
        let (first_s, last_s) = played.fold((f64::INFINITY, 0.0f64), |(first_s, last_s), span| {
            (first_s.min(span.start_s), last_s.max(span.end_s))
        });
        match songs.last_mut() {
            Some(last) if first_s - last.end_s < ONE_SONG_S => last.end_s = last_s,
            _ => songs.push(Span::new(first_s, last_s)),
        }
    }
    songs.retain(|song| song.length_s() >= SHORTEST_S);
    let sounding = desk.strips.iter().map(|strip| {
        let channel = channel(strip).filter(|channel| is_close(&channel.on_stage.role))?;
        let alone = channel.own_alone.as_ref().filter(|alone| alone.is_mic)?;
        let levels = alone.frames_dbfs();
        let least = super::super::percentile(&levels, 98.0)? - ACTIVE_DB;
        // A frame of two steps stands for the step around its middle.
        let at = |frame: usize| {
            Span::new((frame as f64 + 0.5) * alone.step_s, (frame as f64 + 1.5) * alone.step_s)
        };
        let loud = levels.iter().enumerate().filter(|(_, level)| **level > least);
        Some(loud.map(|(frame, _)| at(frame)).collect())
    });
    Stage { songs, sounding: sounding.collect(), active }
}
