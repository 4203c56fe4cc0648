//! Mixes read back from files: latency, inserts, a recorder with a clock of its own, and passages with a change.

use deskside::audio::TrustHeader;
use deskside::coach::{Audition, Change};
use deskside::demo::drift::Drift;
use deskside::measure::excerpt::loudness_power;
use deskside::run;
use deskside::session::Session;
use deskside::unit::Span;

use crate::support::desk::{self, Strip};
use crate::support::signals::{amplitude, programme};
use crate::support::wave;

/// A folder of a small desk: six raw channels, one of them late by an insert, and a main mix that stands later in its recording.
fn desk_folder(strips: &[Strip], late: usize, insert: usize) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let raw = desk::microphones();
    let mut through = raw.clone();
    through[3].rotate_right(insert);
    let mut main = desk::mix(&through, strips);
    for side in &mut main {
        side.rotate_right(late);
    }
    let names = ["01 LV", "02 Keys", "03 Sax", "04 E Git", "05 BV", "06 Fiddle"];
    for (name, plane) in names.iter().zip(&raw) {
        wave::write_pcm24(&folder.path().join(format!("{name}.wav")), desk::RATE_HZ, &[plane]);
    }
    let [left, right] = &main;
    wave::write_pcm24(&folder.path().join("07 Main.wav"), desk::RATE_HZ, &[left, right]);
    folder
}

#[test]
fn a_mix_is_read_back_whatever_its_latency_and_inserts() {
    const LATE: usize = 1_337;
    const INSERT: usize = 64;
    let mut strips: Vec<Strip> =
        [(-3.0, 0.0), (-6.0, -0.5), (-12.0, 0.5), (0.0, 0.2), (-9.0, -0.2), (-4.0, 0.0)]
            .map(|(gain_db, pan)| Strip::plain(gain_db, pan))
            .to_vec();
    strips[1].mute_s = Some([6.0, 13.0]);
    let folder = desk_folder(&strips, LATE, INSERT);
    let session = Session::open(folder.path(), TrustHeader::No).unwrap();
    let reading = run::read(&session, TrustHeader::No, &|_| {}).unwrap();
    let mix = reading.mix.as_ref().expect("a main mix was recorded");
    let late = mix.latency_s.value().unwrap() * f64::from(desk::RATE_HZ);
    assert!((late - LATE as f64).abs() < 0.5, "{late} samples late");
    let share = mix.explained_share.value().unwrap();
    assert!(share > 0.98, "{share} of the mix is explained");
    for (channel, strip) in mix.channels.iter().zip(&strips) {
        let mut gains: Vec<f64> = channel.gain_db.iter().flatten().copied().collect();
        gains.sort_by(f64::total_cmp);
        let median_db = gains[gains.len() / 2];
        assert!((median_db - strip.gain_db).abs() < 0.35, "{}: {median_db}", channel.channel);
        let pan = channel.pan.value().unwrap();
        assert!((pan - strip.pan).abs() < 0.04, "{}: {pan}", channel.channel);
    }
    let insert = mix.channels[3].insert_s * f64::from(desk::RATE_HZ);
    assert!((insert - INSERT as f64).abs() <= 1.0, "{insert} samples");
    let on = &mix.channels[1].on;
    assert_eq!(on.len(), 2, "{on:?}");
    assert!((on[0].end_s - 6.0).abs() < 0.1 && (on[1].start_s - 13.0).abs() < 0.1, "{on:?}");
}

#[test]
fn a_mix_from_a_recorder_with_a_clock_of_its_own_is_read_by_that_clock() {
    const LATE: usize = 900;
    const PPM: f64 = 40.0;
    let strips: Vec<Strip> =
        [(-3.0, 0.0), (-6.0, -0.5), (-12.0, 0.5), (0.0, 0.2), (-9.0, -0.2), (-4.0, 0.0)]
            .map(|(gain_db, pan)| Strip::plain(gain_db, pan))
            .to_vec();
    let folder = desk_folder(&strips, LATE, 0);
    // The mix once more, by the renderer's own recorder of another clock.
    let mut main = desk::mix(&desk::microphones(), &strips);
    for side in &mut main {
        side.rotate_right(LATE);
        let mut clock = Drift::new(PPM);
        let mut samples = clock.run(side);
        samples.extend(clock.finish());
        *side = samples;
    }
    let [left, right] = &main;
    wave::write_pcm24(&folder.path().join("07 Main.wav"), desk::RATE_HZ, &[left, right]);
    let session = Session::open(folder.path(), TrustHeader::No).unwrap();
    let reading = run::read(&session, TrustHeader::No, &|_| {}).unwrap();
    let mix = reading.mix.as_ref().expect("a main mix was recorded");
    let ppm = mix.drift_ppm.value().unwrap();
    assert!(mix.has_own_clock && (ppm - PPM).abs() < 2.0, "{ppm} ppm");
    let late = mix.latency_s.value().unwrap() * f64::from(desk::RATE_HZ);
    assert!((late - LATE as f64).abs() < 2.0, "{late} samples late at the begin");
    let share = mix.explained_share.value().unwrap();
    assert!(share > 0.98, "{share} of the mix is explained");
    assert!(reading.warnings.iter().any(|one| one.contains("clock of its own")), "it is said");
    for (channel, strip) in mix.channels.iter().zip(&strips) {
        let mut gains: Vec<f64> = channel.gain_db.iter().flatten().copied().collect();
        gains.sort_by(f64::total_cmp);
        let median_db = gains[gains.len() / 2];
        assert!((median_db - strip.gain_db).abs() < 0.35, "{}: {median_db}", channel.channel);
    }
}

#[test]
fn a_mix_whose_recorder_started_seconds_later_is_read_from_there() {
    const LATER_S: f64 = 2.5;
    const PPM: f64 = -60.0;
    const GAINS_DB: [f64; 3] = [-3.0, -6.0, -9.0];
    let rate_hz = desk::RATE_HZ;
    let players: Vec<Vec<f32>> = (1..=3).map(|seed| programme(seed, rate_hz, 64.0)).collect();
    let folder = tempfile::tempdir().unwrap();
    let mut main = vec![0.0_f32; players[0].len()];
    for ((name, player), gain_db) in
        ["01 LV", "02 Keys", "03 Sax"].iter().zip(&players).zip(GAINS_DB)
    {
        let gain = amplitude(gain_db) as f32;
        main.iter_mut().zip(player).for_each(|(sum, sample)| *sum += gain * sample);
        wave::write_pcm24(&folder.path().join(format!("{name}.wav")), rate_hz, &[player]);
    }
    let mut clock = Drift::new(PPM);
    let mut main = clock.run(&main);
    main.extend(clock.finish());
    let later = &main[(LATER_S * f64::from(rate_hz)) as usize..];
    wave::write_pcm24(&folder.path().join("04 Main.wav"), rate_hz, &[later, later]);
    let session = Session::open(folder.path(), TrustHeader::No).unwrap();
    let reading = run::read(&session, TrustHeader::No, &|_| {}).unwrap();
    let mix = reading.mix.as_ref().expect("a main mix was recorded");
    let latency_s = mix.latency_s.value().unwrap();
    assert!((latency_s + LATER_S).abs() < 0.001, "{latency_s} s late");
    let ppm = mix.drift_ppm.value().unwrap();
    assert!(mix.has_own_clock && (ppm - PPM).abs() < 2.0, "{ppm} ppm");
    let share = mix.explained_share.value().unwrap();
    assert!(share > 0.98, "{share} of the mix is explained");
}

#[test]
fn a_passage_with_a_voice_brought_up_is_the_mix_of_that_and_as_loud_as_before() {
    const UP_DB: f64 = 6.0;
    let strips: Vec<Strip> =
        [(-14.0, 0.0), (-6.0, -0.5), (-12.0, 0.5), (0.0, 0.2), (-9.0, -0.2), (-4.0, 0.0)]
            .map(|(gain_db, pan)| Strip::plain(gain_db, pan))
            .to_vec();
    let mut up = strips.clone();
    up[0].gain_db += UP_DB;
    let folder = desk_folder(&strips, 500, 0);
    let session = Session::open(folder.path(), TrustHeader::No).unwrap();
    let reading = run::read(&session, TrustHeader::No, &|_| {}).unwrap();
    let span = Span::new(8.0, 12.0);
    let change = Some(("ch01".to_owned(), Change::Level(UP_DB), String::new()));
    let wanted = Audition { span, change };
    let found = run::excerpt(&session, &reading, TrustHeader::No, &wanted).unwrap();
    let changed = found.changed.expect("the mix is explained");
    let expected = desk::mix(&desk::microphones(), &up);
    let places = 8 * 48_000..12 * 48_000;
    let loud = |sides: &[Vec<f32>; 2]| loudness_power(sides, desk::RATE_HZ);
    let ratio_db = 10.0 * (loud(&changed) / loud(&found.as_it_was)).log10();
    assert!(ratio_db.abs() < 0.05, "{ratio_db} dB louder");
    for side in 0..2 {
        let expected = &expected[side][places.clone()];
        // As loud as before: one factor for all samples.
        let dot = |a: &[f32], b: &[f32]| -> f64 {
            a.iter().zip(b).map(|(a, b)| f64::from(*a) * f64::from(*b)).sum()
        };
        let factor = dot(&changed[side], expected) / dot(expected, expected);
        let rest: f64 = changed[side]
            .iter()
            .zip(expected)
            .map(|(found, wanted)| (f64::from(*found) - factor * f64::from(*wanted)).powi(2))
            .sum();
        let error_db = 10.0 * (rest / dot(&changed[side], &changed[side])).log10();
        assert!(error_db < -20.0, "side {side}: {error_db} dB");
    }
    // A child's microphone keeps its passages to itself.
    let mut private = session;
    private.channels[4].note.child = Some(true);
    assert!(run::excerpt(&private, &reading, TrustHeader::No, &wanted).is_none());
}
