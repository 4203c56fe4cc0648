//! Tests of `demo::scene`: the scenes of the corpus hold together.

use std::collections::BTreeSet;

use deskside::demo::{
    record::file_name,
    scene::{Fault, Scene},
};

use crate::support::demo::{cut, truth};

/// The built-in evenings and the stages that accuracy is measured on.
fn all() -> Vec<Scene> {
    let stages = [
        include_str!("../../corpus/scenes/barn-dense.toml"),
        include_str!("../../corpus/scenes/studio-dry.toml"),
        include_str!("../../corpus/scenes/chapel-ringing.toml"),
    ];
    let stages = stages.iter().map(|text| Scene::parse(text).unwrap());
    [Scene::cut(), Scene::full()].into_iter().chain(stages).collect()
}

#[test]
fn every_name_in_a_scene_is_known() {
    for scene in all() {
        let channels: BTreeSet<&str> = scene.channels.iter().map(|c| c.name.as_str()).collect();
        let effect = scene.desk.effect.as_ref().map(|effect| effect.name.as_str());
        let mut named: Vec<&String> = Vec::new();
        named.extend(scene.planted.iter().flat_map(|p| &p.channels));
        named.extend(scene.traps.iter().flat_map(|t| &t.channels));
        named.extend(scene.strengths.iter().flat_map(|s| &s.channels));
        named.extend(scene.wedges.iter().flat_map(|w| &w.serves));
        named.extend(scene.variants.iter().flat_map(|v| &v.channels));
        for fault in &scene.faults {
            match fault {
                Fault::Rumble { channels, .. } => named.extend(channels),
                Fault::Hum { channel, .. }
                | Fault::Howl { channel, .. }
                | Fault::Ring { channel, .. } => named.push(channel),
            }
        }
        for name in named {
            assert!(channels.contains(name.as_str()), "{}: no channel {name}", scene.name);
        }
        let moved = scene.moves.iter().flat_map(|m| &m.channels);
        for name in moved.chain(scene.switches.iter().flat_map(|s| &s.channels)) {
            let known = channels.contains(name.as_str()) || Some(name.as_str()) == effect;
            assert!(known, "{}: nothing called {name} to move", scene.name);
        }
        let own = scene.channels.iter().flat_map(|c| &c.own);
        let cables = scene.channels.iter().flat_map(|c| c.direct.iter().map(|d| &d.source));
        let feeds = scene.wedges.iter().flat_map(|w| w.feeds.iter().map(|f| &f.source));
        let talks = scene.talks.iter().map(|t| &t.source);
        let sounds = scene.sounds.iter().map(|s| &s.source);
        let checks = scene.checks.iter().flat_map(|c| &c.sources);
        for name in own.chain(cables).chain(feeds).chain(talks).chain(sounds).chain(checks) {
            assert!(scene.source_idx(name).is_some(), "{}: no source {name}", scene.name);
        }
    }
}

#[test]
fn recordings_have_names_of_their_own() {
    for scene in all() {
        let channels = scene.channels.iter().enumerate();
        let mut files: Vec<String> =
            channels.map(|(idx, channel)| file_name(channel.number(idx), &channel.name)).collect();
        files.extend(scene.outputs.iter().map(|output| file_name(output.number, &output.name)));
        let different: BTreeSet<&String> = files.iter().collect();
        assert_eq!(different.len(), files.len(), "{}: a name is used twice", scene.name);
    }
}

#[test]
fn segments_follow_each_other_to_the_end() {
    for scene in all() {
        let mut at_s = 0.0;
        for segment in &scene.segments {
            assert!(f64::abs(segment.start_s - at_s) < 1e-9, "{}: a gap at {at_s} s", scene.name);
            at_s = segment.end_s;
        }
        assert!(f64::abs(at_s - scene.length_s) < 1e-9, "{}: ends at {at_s} s", scene.name);
    }
}

#[test]
fn an_unknown_key_is_an_error() {
    let text = include_str!("../../corpus/scenes/tallow-street-cut.toml");
    assert!(Scene::parse(text).is_ok(), "the scene as it stands is read");
    let error = Scene::parse(&text.replacen("seed =", "sead =", 1)).unwrap_err();
    assert!(error.to_string().contains("sead"), "{error}");
}

#[test]
fn wedges_stand_to_microphones_as_the_polar_equations_say() {
    // Angles in space and A + (1 - A) cos t, computed by hand from the stage plot.
    let expected =
        [("W1", "LV", 12.9), ("W2", "BV 1", 17.5), ("W2", "bvox2", 13.9), ("W3", "Host HH", 6.6)];
    let truth = truth(cut());
    let wedges = truth["wedges"].as_array().unwrap();
    for (wedge, mic, attenuation_db) in expected {
        let found = wedges.iter().find(|w| w["wedge"] == wedge && w["mic"] == mic).unwrap();
        let found_db = found["attenuation_db"].as_f64().unwrap();
        // The plot is given in centimetres, the figures to a tenth of a dB.
        assert!(
            (found_db - attenuation_db).abs() < 0.1,
            "{mic} to {wedge}: {found_db} dB, expected {attenuation_db}"
        );
    }
    let lead = wedges.iter().find(|w| w["wedge"] == "W1" && w["mic"] == "LV").unwrap();
    let angle_deg = lead["angle_deg"].as_f64().unwrap();
    assert!((angle_deg - 161.0).abs() < 0.5, "{angle_deg} degrees");
}

#[test]
fn variants_change_what_they_name_and_nothing_else() {
    let full = Scene::full();
    let flipped = full.variant("snare-flipped").unwrap();
    let inverts = |scene: &Scene| -> Vec<bool> {
        scene.channels.iter().map(|c| c.strip.as_ref().is_some_and(|strip| strip.invert)).collect()
    };
    let snare = full.channel_idx("sn bot").unwrap();
    let differ: Vec<usize> = (0..full.channels.len())
        .filter(|idx| inverts(&full)[*idx] != inverts(&flipped)[*idx])
        .collect();
    assert_eq!(differ, [snare], "channels that are flipped");
    let planted = |scene: &Scene| scene.planted.iter().any(|p| p.rule == "pair-polarity");
    assert!(planted(&full) && !planted(&flipped), "planted only where it is heard");
    assert!(full.variant("no such take").is_none(), "unknown variants are none");
}

#[test]
fn truth_names_every_planted_rule_of_the_short_evening() {
    let truth = truth(cut());
    let rules: BTreeSet<&str> =
        truth["planted"].as_array().unwrap().iter().map(|p| p["rule"].as_str().unwrap()).collect();
    for rule in ["gain-too-low", "hum-buzz", "twin-channel"] {
        assert!(rules.contains(rule), "{rule} is planted");
    }
}
