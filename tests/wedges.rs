//! The whole way on a rendered stage with wedges: what a monitor mix brings into the microphones of voices is told as it was planted.
//!
//! Planted is the difference of two takes that differ in nothing but their wedges.

use std::path::Path;

use deskside::audio::TrustHeader;
use deskside::coach::{Aims, NoteLimit, Options, Outcome, coach};
use deskside::demo::render_scene;
use deskside::demo::scene::{
    Direct, Output, OutputKind, Part, Pattern, Scene, Sound, SoundKind, Source, Wedge, WedgeFeed,
};
use deskside::dsp::Group;
use deskside::dsp::percentile::percentile;
use deskside::measure::ThirdsMeter;
use deskside::reading::Reading;
use deskside::run;
use deskside::session::{Role, Session, Tap};
use deskside::unit::spans::without;
use deskside::unit::{Fact, Span};

use crate::support::demo;

/// Channels of the stage that are recorded: the voices, two players and what comes by wire.
const KEPT: [&str; 7] = ["Sn", "Gtr Amp", "Lead", "Vox Low", "Vox High", "Organ L", "Trumpet"];

/// Level of a wedge that is as good as off, in dB re 20 µPa.
const OFF_DB_SPL: f64 = -60.0;

/// The stage with playback and a wedge in front of one backing singer; `loud_db_spl` of the playback at 1 m of it.
fn stage(loud_db_spl: f64) -> Scene {
    let mut scene = Scene::parse(include_str!("../corpus/scenes/loft-brass.toml")).unwrap();
    scene.alone_told = false;
    scene.channels.retain(|channel| KEPT.contains(&channel.name.as_str()));
    scene.sources.push(Source {
        name: "tape".to_owned(),
        part: Part::Playback,
        at_m: None,
        loud_db_spl: 0.0,
        facing: None,
        omni: 1.0,
        singer: 0,
        size: 1.0,
        octave: 0,
    });
    // One singer keeps a hand and a half away from a microphone that hears all around.
    let far = scene.channels.iter_mut().find(|one| one.name == "Vox Low").unwrap();
    let mic = far.mic.as_mut().unwrap();
    (mic.at_m, mic.pattern) = ([-1.28, 0.1, 1.63], Pattern::Omni);
    let mut tape = scene.channels.iter().find(|one| one.name == "Organ L").unwrap().clone();
    tape.name = "Trax".to_owned();
    tape.role = Role::Playback;
    tape.direct = vec![Direct { source: "tape".to_owned(), level_db: 0.0 }];
    tape.own = vec!["tape".to_owned()];
    scene.channels.push(tape);
    scene.sounds.push(Sound {
        source: "tape".to_owned(),
        kind: SoundKind::Playback,
        start_s: 3.0,
        end_s: 82.0,
        pitch_midi: None,
    });
    let feed = |source: &str, under_db: f64| WedgeFeed {
        source: source.to_owned(),
        loud_db_spl: loud_db_spl - under_db,
    };
    scene.wedges.push(Wedge {
        name: "W1".to_owned(),
        at_m: [-1.3, -0.9, 0.25],
        towards_m: [-1.3, 0.35, 1.66],
        serves: vec!["Vox Low".to_owned()],
        feeds: vec![feed("tape", 0.0), feed("guitar", 6.0), feed("low-voice", 3.0)],
    });
    scene.outputs.push(Output {
        number: 20,
        name: "Mon 1".to_owned(),
        kind: OutputKind::Monitor,
        channel: None,
        wedge: Some("W1".to_owned()),
    });
    scene
}

fn reading(folder: &Path) -> Reading {
    let session = Session::open(folder, TrustHeader::No).unwrap();
    assert!(session.channels.iter().any(|one| one.tap == Tap::Monitor), "the mix is noted as such");
    run::read(&session, TrustHeader::No, &|_| {}).unwrap()
}

/// Powers from 250 Hz to 4 kHz in steps of 0.2 s, by the filters of IEC 61260-1.
fn powers(samples: &[f32]) -> Vec<f64> {
    let mut meter = ThirdsMeter::new(48_000, 1);
    meter.push(Group::new(&[samples], 48_000));
    meter.finish()[0].joined(10..23).powers().collect()
}

/// Those of the steps that lie in some stretches.
fn within(powers: &[f64], spans: &[Span]) -> Vec<f64> {
    let is_inside = |step: &usize| {
        let at_s = 0.2 * *step as f64;
        spans.iter().any(|span| span.start_s <= at_s && at_s + 0.2 <= span.end_s)
    };
    (0..powers.len()).filter(is_inside).map(|step| powers[step]).collect()
}

/// What the wedge brings into a voice's microphone while the voice rests, against the loud voice, in dB.
fn planted_db(on: &Path, off: &Path, name: &str) -> f64 {
    let truth = demo::truth(on);
    let channels = truth["channels"].as_array().unwrap().iter();
    let channel = channels.clone().find(|one| one["name"] == name).unwrap();
    let active: Vec<Span> = channel["active"]
        .as_array()
        .unwrap()
        .iter()
        .map(|span| Span::new(span["start_s"].as_f64().unwrap(), span["end_s"].as_f64().unwrap()))
        .collect();
    let wide = deskside::unit::spans::widened(&active, 0.4);
    let rests = without(&[Span::new(4.0, 80.0)], &wide);
    let [with, alone] = [on, off].map(|folder| demo::mono(folder, name));
    let wedge: Vec<f32> = with.iter().zip(&alone).map(|(with, off)| (with - off) as f32).collect();
    let with: Vec<f32> = with.into_iter().map(|sample| sample as f32).collect();
    let brought = within(&powers(&wedge), &rests);
    let brought = brought.iter().sum::<f64>() / brought.len() as f64;
    let loud = percentile(&within(&powers(&with), &active), 0.95).unwrap();
    10.0 * (brought / loud).log10()
}

/// Names of the channels on which the rule makes a finding.
fn found(reading: &Reading) -> Vec<&str> {
    let options = Options { notes: NoteLimit::All, ..Options::default() };
    let advice = coach(reading, &Aims::default(), &options);
    let of_rule = advice.judgements.iter().filter(|one| one.rule.id == "wedge-spill");
    let off = of_rule.filter(|one| matches!(one.outcome, Outcome::Near | Outcome::Outside));
    let ids: Vec<String> = off.flat_map(|one| one.channels.clone()).collect();
    ids.iter().map(|id| reading.channel(id).unwrap().name.as_str()).collect()
}

#[test]
fn a_wedge_is_told_at_the_level_that_it_has_in_each_voice() {
    let folders = [92.0, 72.0, OFF_DB_SPL].map(|loud_db_spl| {
        let folder = tempfile::tempdir().unwrap();
        render_scene(&stage(loud_db_spl), folder.path(), &mut |_| {}).unwrap();
        folder
    });
    let [loud, soft, off] = folders.each_ref().map(|folder| folder.path());
    let told = reading(loud);
    for name in ["Lead", "Vox Low", "Vox High"] {
        let planted_db = planted_db(loud, off, name);
        let voice = told.channels.iter().find(|one| one.name == name).unwrap();
        let wedge = voice.microphone.wedge.as_ref().expect("a monitor mix was recorded");
        let [low, high] = wedge.re_loud_db.ends().expect("playback tells");
        assert!(low <= planted_db && planted_db <= high, "{name}: {planted_db}, {wedge:?}");
        let is_range = matches!(wedge.re_loud_db, Fact::Range { .. });
        assert_eq!(is_range, name == "Vox Low", "one stands close to the wedge: {name}, {wedge:?}");
    }
    assert_eq!(found(&told), ["Vox Low"], "the wedge stands before this singer");
    assert_eq!(found(&reading(soft)), [""; 0], "20 dB less is nothing");
}
