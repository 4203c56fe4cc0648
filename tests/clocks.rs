//! The whole way on invented stages: recorders whose clocks differ, and what is no clock.
//!
//! Source: resampling known by construction; what counts as drift is common practice.

use deskside::audio::TrustHeader;
use deskside::reading::{Reading, Recorder};
use deskside::report::lead;
use deskside::run;
use deskside::session::Session;
use deskside::unit::Fact;

use crate::support::drifting::{RATE_HZ, Stage, by_clock};
use crate::support::wave;

const NAMES: [&str; 5] = ["01 Lead Vox", "02 Fiddle", "03 BV", "04 Snare", "05 E Git"];

/// A file: its name without an end, and its only plane.
type File<'a> = (&'a str, Vec<f32>);

fn reading(files: &[File<'_>]) -> Reading {
    let folder = tempfile::tempdir().unwrap();
    for (name, plane) in files {
        wave::write_pcm24(&folder.path().join(format!("{name}.wav")), RATE_HZ, &[plane]);
    }
    let session = Session::open(folder.path(), TrustHeader::No).unwrap();
    run::read(&session, TrustHeader::No, &|_| {}).unwrap()
}

/// The close microphones of one recorder.
fn close<'a>(stage: &Stage, players: &[Vec<f32>], whose: std::ops::Range<usize>) -> Vec<File<'a>> {
    whose.map(|player| (NAMES[player], stage.close(players, player))).collect()
}

fn only(reading: &Reading) -> &Recorder {
    assert_eq!(reading.recorders.len(), 1, "{:?}", reading.recorders);
    &reading.recorders[0]
}

/// Whether a fact allows a value; what is not known does not.
fn allows(fact: &Fact, more_or_less: f64, value: f64) -> bool {
    fact.ends()
        .is_some_and(|[low, high]| low - more_or_less <= value && value <= high + more_or_less)
}

#[test]
fn a_recorder_in_the_hall_that_was_started_earlier_tells_its_clock() {
    const PPM: f64 = 18.0;
    let stage = Stage::band(1_101, 130.0);
    let players = stage.players();
    let mut files = close(&stage, &players, 0..4);
    files.push(("06 Room", by_clock(&stage.hall(&players), PPM, 7.3)));
    let reading = reading(&files);
    let room = only(&reading);
    assert!(room.is_in_hall, "{room:?}");
    let ppm = room.drift_ppm.value().expect("18 ppm are told in two minutes");
    // The way of 9 m does not change here: what is left is the error of the lags.
    assert!((ppm - PPM).abs() < 0.5, "{room:?}");
    let expected_ms = PPM * 1e-3 * 137.3;
    assert!((room.drift_ms.value().unwrap() - expected_ms).abs() < 0.1, "{room:?}");
    assert!(room.n_sources >= 2 && room.smallest_ppm.unwrap() < 6.0, "{room:?}");
    let said = lead::complete(&reading);
    assert!(said.iter().any(|line| line.contains("18.0 ppm fast")), "{said:?}");
}

#[test]
fn a_second_recorder_of_channels_tells_its_clock_and_a_step_apart_is_told_from_none() {
    for ppm in [0.0, -40.0] {
        let stage = Stage { n_players: 5, ..Stage::band(1_102, 120.0) };
        let players = stage.players();
        let mut files = close(&stage, &players, 0..3);
        // The second recorder was started half a second earlier, so that nothing but the sound tells.
        for (name, plane) in close(&stage, &players, 3..5) {
            files.push((name, by_clock(&plane, ppm, 0.5)));
        }
        let reading = reading(&files);
        let second = only(&reading);
        assert_eq!(second.channels, ["ch04", "ch05"], "{second:?}");
        assert!(!second.is_in_hall, "{second:?}");
        let smallest_ppm = second.smallest_ppm.expect("both recorders share sound");
        assert!(smallest_ppm < 5.0, "{second:?}");
        assert!(allows(&second.drift_ppm, 0.5, ppm), "{ppm} ppm: {second:?}");
        let is_told = second.drift_ppm.value().is_some();
        assert_eq!(is_told, ppm < 0.0, "{ppm} ppm: {second:?}");
    }
}

#[test]
fn one_device_has_no_second_clock() {
    let stage = Stage { n_players: 2, ..Stage::band(1_103, 62.0) };
    let players = stage.players();
    let mut files = close(&stage, &players, 0..2);
    files.push(("06 Room", stage.hall(&players)));
    assert!(reading(&files).recorders.is_empty(), "all files have one length");
}

#[test]
fn a_talker_who_walks_and_air_that_warms_are_no_clock() {
    // A talker alone walks 3 m towards the hall, evenly: 8.7 ms in two minutes would be 73 ppm.
    let stage = Stage { n_players: 1, walks_m: 3.0, warms_by_k: 5.0, ..Stage::band(1_104, 120.0) };
    let players = stage.players();
    let mut files = close(&stage, &players, 0..1);
    // Another channel that hears nothing makes a recorder of two.
    files.push(("02 Fiddle", files[0].1.iter().map(|x| 1e-3 * x).collect()));
    files.push(("06 Room", by_clock(&stage.hall(&players), 0.0, 2.0)));
    let room = only(&reading(&files)).clone();
    assert!(room.drift_ppm.value().is_none(), "{room:?}");
    // A band in air that warms: 9 m are 0.2 ms shorter by sound, no more than is said to be unsure.
    let stage = Stage { walks_m: 3.0, warms_by_k: 5.0, ..Stage::band(1_105, 120.0) };
    let players = stage.players();
    let mut files = close(&stage, &players, 0..4);
    files.push(("06 Room", by_clock(&stage.hall(&players), 0.0, 2.0)));
    let room = only(&reading(&files)).clone();
    assert!(room.drift_ppm.value().is_none(), "{room:?}");
    assert!(allows(&room.drift_ppm, 0.0, 0.0), "{room:?}");
}

#[test]
fn a_channel_that_shares_nothing_has_no_drift_and_says_why() {
    let stage = Stage::band(1_106, 100.0);
    let players = stage.players();
    let mut files = close(&stage, &players, 0..3);
    let elsewhere = Stage { n_players: 1, ..Stage::band(1_107, 100.0) };
    let alone = elsewhere.hall(&elsewhere.players());
    files.push(("06 Room", by_clock(&alone, 40.0, 1.0)));
    let reading = reading(&files);
    let room = only(&reading);
    let reason = room.drift_ppm.reason().expect("nothing is shared").to_string();
    assert!(reason.contains("shares too little sound"), "{reason}");
    assert!(lead::complete(&reading).iter().any(|line| line.contains(&reason)), "it is said");
}
