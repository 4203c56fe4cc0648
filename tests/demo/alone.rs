//! Tests of `demo::alone` and the spill it tells: the same levels are found by rendering with everybody else silent, the same
//! delays from the stage plot.

use deskside::demo::{
    alone::things,
    geometry::distance_m,
    render_scene,
    scene::{Gain, Scene, Talk},
};
use serde_json::Value;

use crate::support::demo::{mono, quiet_scene, rms_db, truth};
use crate::support::reference::Table;

/// The stages whose truth tells what things give alone.
const STAGES: [&str; 3] = [
    include_str!("../../corpus/scenes/barn-dense.toml"),
    include_str!("../../corpus/scenes/studio-dry.toml"),
    include_str!("../../corpus/scenes/chapel-ringing.toml"),
];

/// Truth is rounded to a hundredth of a dB; recordings to 24 bits, 90 dB and more under what is compared.
const LEVEL_TOLERANCE_DB: f64 = 0.02;

/// Levels of frames are rounded to a tenth of a dB.
const FRAME_TOLERANCE_DB: f64 = 0.06;

/// Arrivals are rounded to a tenth of a microsecond.
const TIME_TOLERANCE_S: f64 = 1e-7;

fn names(scene: &Scene) -> Vec<Vec<&str>> {
    let name = |idx: &usize| scene.channels[*idx].name.as_str();
    things(scene).iter().map(|thing| thing.channels.iter().map(name).collect()).collect()
}

#[test]
fn heads_sides_cable_and_amplifier_are_one_thing_and_singers_are_not() {
    let scene = Scene::parse(STAGES[0]).unwrap();
    let together: Vec<Vec<&str>> =
        names(&scene).into_iter().filter(|thing| thing.len() > 1).collect();
    assert_eq!(
        together,
        [
            vec!["BD In", "BD Out"],
            vec!["SD Up", "SD Under"],
            vec!["OH Left", "OH Right"],
            vec!["Bass DI", "Bass Amp"],
            vec!["Organ L", "Organ R"],
            vec!["Choir L", "Choir R"],
        ]
    );
    assert!(names(&scene).contains(&vec!["BV near"]), "a voice by itself");
}

/// Two talkers in the hall of the demo, or one of them; preamplifiers stay as they are.
fn talkers(sources: &[&str]) -> tempfile::TempDir {
    let mut scene = quiet_scene(4.0);
    scene.alone_told = true;
    scene.hall.n_tails = 3;
    for channel in &mut scene.channels {
        channel.noise_dbfs = None;
        channel.gain = Gain::FullScaleDbSpl(120.0);
    }
    for (source, start_s) in [("host", 0.2), ("lead", 0.9)] {
        if sources.contains(&source) {
            let source = source.to_owned();
            scene.talks.push(Talk { source, start_s, end_s: start_s + 2.0, velocity: 0.8 });
        }
    }
    let folder = tempfile::tempdir().unwrap();
    render_scene(&scene, folder.path(), &mut |_| {}).unwrap();
    folder
}

fn row<'a>(truth: &'a Value, source: &str, mic: &str) -> &'a Value {
    let rows = truth["spill"].as_array().unwrap();
    rows.iter().find(|row| row["source"] == source && row["mic"] == mic).unwrap()
}

#[test]
fn spill_is_what_remains_when_everybody_else_is_silent() {
    let both = talkers(&["host", "lead"]);
    let [host, lead] = ["host", "lead"].map(|source| talkers(&[source]));
    let truth = truth(both.path());
    let level_db = |folder: &tempfile::TempDir, name: &str| rms_db(&mono(folder.path(), name));
    // Both are heard through wedges too; the microphones of others have nothing of their own.
    for (source, own, mic, resident) in
        [("Host HH", &host, "LV", &lead), ("LV", &lead, "Host HH", &host)]
    {
        let row = row(&truth, source, mic);
        let bleed_db = level_db(own, mic) - level_db(resident, mic);
        let transfer_db = level_db(own, mic) - level_db(own, source);
        for (key, found_db) in [("bleed_db", bleed_db), ("transfer_db", transfer_db)] {
            let told_db = row[key].as_f64().unwrap();
            assert!(
                (told_db - found_db).abs() < LEVEL_TOLERANCE_DB,
                "{source} in {mic}: {key} {told_db}, found {found_db}"
            );
        }
    }
    let silent = row(&truth, "LV", "BV 1");
    assert!(silent["bleed_db"].is_null(), "no bleed against a voice that never sounds: {silent}");
    assert!(row(&truth, "LV", "Bs DI")["transfer_db"].is_null(), "a cable hears no voice");
}

#[test]
fn own_levels_are_those_of_the_recording_when_everybody_else_is_silent() {
    let both = truth(talkers(&["host", "lead"]).path());
    let channels = both["channels"].as_array().unwrap();
    let lead = &channels.iter().find(|channel| channel["name"] == "LV").unwrap()["own_alone"];
    assert_eq!(lead["thing"], "LV");
    let alone = mono(talkers(&["lead"]).path(), "LV");
    let levels = lead["level_dbfs"].as_array().unwrap();
    assert_eq!(levels.len(), alone.len().div_ceil(2048), "a level each 2048 samples");
    let mut n_compared = 0;
    for (frame, level) in alone.chunks_exact(2048).zip(levels) {
        let Some(told_dbfs) = level.as_f64().filter(|told_dbfs| *told_dbfs > -80.0) else {
            continue;
        };
        let found_dbfs = rms_db(frame);
        assert!(
            (told_dbfs - found_dbfs).abs() < FRAME_TOLERANCE_DB,
            "{told_dbfs} dBFS, found {found_dbfs}"
        );
        n_compared += 1;
    }
    // Two seconds of words, and the hall's answer.
    assert!(n_compared > 50, "{n_compared} frames were compared");
}

/// Speed of sound at a temperature of the published table, or between two of its rows.
fn speed_m_s(temperature_c: f64) -> f64 {
    let table = Table::read("speed_of_sound.csv");
    let at = |row: usize| (table.number(row, "temp_C"), table.number(row, "iso9613_1_m_s"));
    let next = (1..table.len()).find(|row| at(*row).0 >= temperature_c).unwrap();
    let ((low_c, low_m_s), (high_c, high_m_s)) = (at(next - 1), at(next));
    low_m_s + (temperature_c - low_c) / (high_c - low_c) * (high_m_s - low_m_s)
}

#[test]
fn delays_are_distance_over_the_published_speed_of_sound() {
    for text in STAGES {
        let mut scene = Scene::parse(text).unwrap();
        scene.length_s = 0.1;
        scene.songs.clear();
        scene.talks.clear();
        scene.sounds.clear();
        let folder = tempfile::tempdir().unwrap();
        render_scene(&scene, folder.path(), &mut |_| {}).unwrap();
        let truth = truth(folder.path());
        let speed_m_s = speed_m_s(scene.temperature_c);
        let mut n_delays = 0;
        for row in truth["spill"].as_array().unwrap() {
            let Some(told_s) = row["delay_s"].as_f64() else { continue };
            let channel = |key: &str| {
                let idx = scene.channel_idx(row[key].as_str().unwrap()).unwrap();
                &scene.channels[idx]
            };
            let source = scene.source_idx(&channel("source").own[0]).unwrap();
            let source_m = scene.sources[source].at_m.unwrap();
            // A cable takes no time.
            let way_m = |key: &str| {
                channel(key).mic.map_or(0.0, |mic| distance_m(source_m, mic.at_m).max(0.04))
            };
            let expected_s = (way_m("mic") - way_m("source")) / speed_m_s;
            // The table is interpolated over 5 degrees: its bend there is under a millionth.
            assert!(
                (told_s - expected_s).abs() < TIME_TOLERANCE_S + 1e-5 * expected_s.abs(),
                "{}: {told_s} s, expected {expected_s}: {row}",
                scene.name
            );
            n_delays += 1;
        }
        assert!(n_delays >= 90, "{}: {n_delays} delays", scene.name);
    }
}

#[test]
fn the_demo_tells_no_more_than_before() {
    let folder = tempfile::tempdir().unwrap();
    render_scene(&quiet_scene(0.1), folder.path(), &mut |_| {}).unwrap();
    let truth = truth(folder.path());
    assert!(truth["spill"].is_null(), "no spill by channel");
    assert!(truth["channels"][0]["own_alone"].is_null(), "no levels of frames");
}
