//! Tests of whole takes: what is planted is in the recordings, measured by plain code.

use std::{fs, path::Path};

use deskside::demo::{
    geometry::distance_m,
    render_scene,
    scene::{Scene, Sound, SoundKind, Talk},
};
use serde_json::Value;

use crate::support::demo::{cut, file, mono, place, quiet_scene, rms_db, samples, truth};

const RATE_HZ: f64 = 48_000.0;

/// Part of a recording.
fn between(samples: &[f64], start_s: f64, end_s: f64) -> &[f64] {
    &samples[place(start_s * RATE_HZ)..place(end_s * RATE_HZ)]
}

/// Levels of windows of 400 ms each 100 ms that lie within spans, in dB, lowest first.
fn window_levels_db(samples: &[f64], spans: &[(f64, f64)]) -> Vec<f64> {
    let mut levels = Vec::new();
    for &(start_s, end_s) in spans {
        let mut at_s = start_s;
        while at_s + 0.4 <= end_s {
            levels.push(rms_db(between(samples, at_s, at_s + 0.4)));
            at_s += 0.1;
        }
    }
    levels.sort_by(f64::total_cmp);
    levels
}

/// When a channel's own sources sound, by the truth.
fn active(truth: &Value, name: &str) -> Vec<(f64, f64)> {
    let channels = truth["channels"].as_array().unwrap();
    let channel = channels.iter().find(|c| c["name"] == name).unwrap();
    let spans = channel["active"].as_array().unwrap().iter();
    spans.map(|s| (s["start_s"].as_f64().unwrap(), s["end_s"].as_f64().unwrap())).collect()
}

/// Loud level: 95th percentile of windows in which it sounds.
fn loud_dbfs(folder: &Path, name: &str) -> f64 {
    let levels = window_levels_db(&mono(folder, name), &active(&truth(folder), name));
    levels[levels.len() * 95 / 100]
}

#[test]
fn lead_voice_is_recorded_at_minus_35() {
    let found_dbfs = loud_dbfs(cut(), "LV");
    assert!((found_dbfs + 35.0).abs() < 1.0, "{found_dbfs} dBFS");
}

#[test]
fn other_voices_and_cables_are_recorded_at_their_level() {
    let stated = [
        ("Bs DI", -20.0),
        ("AcGtr", -23.5),
        ("KB L", -23.5),
        ("Tpt", -20.0),
        ("BV 1", -21.5),
        ("Host HH", -24.0),
    ];
    for (name, expected_dbfs) in stated {
        let found_dbfs = loud_dbfs(cut(), name);
        // Spill adds a little to what is the own source's level.
        assert!((found_dbfs - expected_dbfs).abs() < 1.0, "{name}: {found_dbfs} dBFS");
    }
}

#[test]
fn no_input_but_playback_and_click_comes_near_full_scale() {
    let scene = Scene::cut();
    for channel in &scene.channels {
        let samples = mono(cut(), &channel.name);
        let peak_dbfs = 20.0 * samples.iter().fold(0.0_f64, |peak, x| peak.max(x.abs())).log10();
        let limit_dbfs = match channel.name.as_str() {
            "Trax L" | "Trax R" => -3.4,
            "click" => -2.9,
            _ => -6.0,
        };
        assert!(peak_dbfs < limit_dbfs, "{} peaks at {peak_dbfs} dBFS", channel.name);
    }
}

#[test]
fn click_peaks_at_minus_3() {
    let peak = mono(cut(), "click").iter().fold(0.0_f64, |peak, x| peak.max(x.abs()));
    assert!((20.0 * peak.log10() + 3.0).abs() < 0.01, "{} dBFS", 20.0 * peak.log10());
}

#[test]
fn both_sides_of_the_recording_are_one() {
    let (left, right) = (mono(cut(), "Trax L"), mono(cut(), "Trax R"));
    assert!(left == right, "the sides differ");
    let plateau = left.iter().fold(0.0_f64, |peak, x| peak.max(x.abs()));
    let flat = |w: &&[f64]| w.iter().all(|x| x.abs() > plateau - 1e-6);
    let n_flat = left.windows(3).filter(flat).count();
    assert!(n_flat > 20, "{n_flat} places with three samples at the ceiling");
}

#[test]
fn hum_of_the_keys_stands_42_db_under_their_loud_level() {
    let quiet = mono(cut(), "KB L");
    let quiet = between(&quiet, 11.0, 15.0);
    // Four seconds hold whole periods of 50 Hz and its multiples: each is one line.
    let line = |n: u32| {
        let angle = std::f64::consts::TAU * 50.0 * f64::from(n) / RATE_HZ;
        let (re, im) = quiet.iter().enumerate().fold((0.0, 0.0), |(re, im), (n, x)| {
            (re + x * (angle * n as f64).cos(), im + x * (angle * n as f64).sin())
        });
        2.0 * (re * re + im * im) / (quiet.len() as f64).powi(2)
    };
    let hum_db = 10.0 * (1..=20).map(line).sum::<f64>().log10();
    let below_db = hum_db - loud_dbfs(cut(), "KB L");
    assert!((below_db + 42.0).abs() < 1.0, "{below_db} dB");
    assert!(hum_db > rms_db(quiet) - 0.1, "there is more than hum in the quiet");
    let other = mono(cut(), "KB R");
    assert!(rms_db(between(&other, 11.0, 15.0)) < -80.0, "the other side hums too");
}

#[test]
fn voices_stand_12_db_above_the_spill_in_their_microphones() {
    let truth = truth(cut());
    for name in ["LV", "BV 1", "bvox2"] {
        let samples = mono(cut(), name);
        let spans = active(&truth, name);
        let sung: Vec<(f64, f64)> = spans.iter().copied().filter(|s| s.0 > 26.0).collect();
        let gaps = sung.windows(2).map(|pair| (pair[0].1 + 0.2, pair[1].0));
        let before = (26.5, sung[0].0);
        let pauses: Vec<(f64, f64)> = gaps.chain([before]).collect();
        let median = |levels: Vec<f64>| levels[levels.len() / 2];
        let own_to_spill_db =
            median(window_levels_db(&samples, &sung)) - median(window_levels_db(&samples, &pauses));
        assert!(own_to_spill_db >= 12.0, "{name}: {own_to_spill_db} dB");
    }
}

#[test]
fn truth_places_every_source_by_its_distance() {
    let (truth, scene) = (truth(cut()), Scene::cut());
    let pairs = truth["pairs"].as_array().unwrap();
    let pair = pairs.iter().find(|p| p["source"] == "kick" && p["mic"] == "LV").unwrap();
    let at = |name: &str| scene.channels[scene.channel_idx(name).unwrap()].mic.unwrap().at_m;
    let kick = scene.sources[scene.source_idx("kick").unwrap()].at_m.unwrap();
    let expected_s = (distance_m(kick, at("LV")) - distance_m(kick, at("Kik"))) / 343.2;
    let found_s = pair["delay_s"].as_f64().unwrap();
    // Rounded to a microsecond.
    assert!((found_s - expected_s).abs() < 1e-6, "{found_s} s, expected {expected_s}");
    // 18 microphones of players and the room's, each with the sources that are not its own.
    assert!(pairs.len() > 500, "{} pairs", pairs.len());
}

#[test]
fn main_is_silent_while_all_is_closed() {
    let main = samples(&file(cut(), "Main"));
    assert_eq!(main.len(), 2, "two sides in one file");
    for side in &main {
        assert!(rms_db(between(side, 10.5, 15.9)) < -90.0, "something is open in the quiet");
        assert!(rms_db(between(side, 30.0, 60.0)) > -35.0, "the song is in the main mix");
    }
}

/// A short scene with no noise in which only some things happen.
fn short(length_s: f64) -> Scene {
    let mut scene = quiet_scene(length_s);
    scene.channels.iter_mut().for_each(|channel| channel.noise_dbfs = None);
    scene
}

fn rendered(scene: &Scene) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let mut shares = Vec::new();
    render_scene(scene, folder.path(), &mut |share| shares.push(share)).unwrap();
    let rises = shares.windows(2).all(|pair| pair[0] <= pair[1]);
    assert!(rises && (shares.last().unwrap() - 1.0).abs() < 1e-9, "progress ends at 1: {shares:?}");
    folder
}

fn clap(scene: &mut Scene) {
    scene.sounds.push(Sound {
        source: "boards".to_owned(),
        kind: SoundKind::Clap,
        start_s: 0.5,
        end_s: 0.6,
        pitch_midi: None,
    });
}

#[test]
fn same_seed_same_bytes() {
    let mut scene = short(1.5);
    clap(&mut scene);
    scene.channels.iter_mut().for_each(|channel| channel.noise_dbfs = Some(-70.0));
    let (first, second) = (rendered(&scene), rendered(&scene));
    scene.seed += 1;
    let other = rendered(&scene);
    let mut names: Vec<_> =
        fs::read_dir(first.path()).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    names.sort();
    assert_eq!(names.len(), 26 + 4 + 2, "26 channels, 4 outputs, note and truth");
    let mut n_differ = 0;
    for name in names {
        let read = |folder: &tempfile::TempDir| fs::read(folder.path().join(&name)).unwrap();
        assert!(read(&first) == read(&second), "{} differs", name.to_string_lossy());
        n_differ += usize::from(read(&first) != read(&other));
    }
    assert!(n_differ > 20, "another seed changed {n_differ} files");
}

#[test]
fn truth_gives_spill_as_it_is_in_the_recordings() {
    let mut scene = short(4.0);
    // Only the host speaks; nothing comes by wedge.
    scene.wedges.clear();
    scene.talks.push(Talk { source: "host".to_owned(), start_s: 0.2, end_s: 2.2, velocity: 0.8 });
    let folder = rendered(&scene);
    let truth = truth(folder.path());
    let own_db = rms_db(&mono(folder.path(), "Host HH"));
    for mic in ["LV", "Choir", "OH L"] {
        let pairs = truth["pairs"].as_array().unwrap();
        let pair = pairs.iter().find(|p| p["source"] == "host" && p["mic"] == mic).unwrap();
        let stated_db = pair["transfer_db"].as_f64().unwrap();
        let found_db = rms_db(&mono(folder.path(), mic)) - own_db;
        // The tail is stated by its mean spectrum: speech, with its few lines, scatters around it by some tenths.
        assert!((stated_db - found_db).abs() < 0.7, "{mic}: {found_db} dB, stated {stated_db}");
    }
}

#[test]
fn cables_carry_no_spill() {
    let mut scene = short(2.0);
    clap(&mut scene);
    let folder = rendered(&scene);
    for name in ["Bs DI", "AcGtr", "KB R", "Trax L", "click"] {
        assert!(mono(folder.path(), name).iter().all(|x| *x == 0.0), "{name} hears the clap");
    }
    assert!(rms_db(&mono(folder.path(), "LV")) > -90.0, "microphones hear it");
}

#[test]
fn the_room_hears_a_clap_after_its_distance() {
    let mut scene = short(2.0);
    clap(&mut scene);
    let folder = rendered(&scene);
    let room = mono(folder.path(), "Room");
    let source = scene.sources[scene.source_idx("boards").unwrap()].at_m.unwrap();
    let mic = scene.channels[scene.channel_idx("Room").unwrap()].mic.unwrap();
    let expected_s = 0.5 + distance_m(source, mic.at_m) / 343.2;
    let peak = room.iter().fold(0.0_f64, |peak, x| peak.max(x.abs()));
    let first = room.iter().position(|x| x.abs() > peak / 30.0).unwrap() as f64 / RATE_HZ;
    // A clap takes a moment to rise; nothing may come before its time.
    assert!((-0.0005..0.004).contains(&(first - expected_s)), "{first} s, expected {expected_s}");
}
