//! What is written is read back as it was, and appears whole or not at all.

use std::fs;

use deskside::audio::{SampleFormat, TrustHeader, WaveSpec, WaveWriter, probe};

use super::{check_planes, open_all};
use crate::support::wavefile::Kind;

fn planes(n_frames: usize, n_channels: usize) -> Vec<Vec<f32>> {
    (0..n_channels).map(|c| (0..n_frames).map(|n| Kind::S24.truth(n, c)).collect()).collect()
}

fn write(path: &std::path::Path, spec: WaveSpec, planes: &[Vec<f32>]) {
    let mut writer = WaveWriter::create(path, spec).expect("the file can be begun");
    let n_frames = planes[0].len();
    for start in (0..n_frames).step_by(700) {
        let end = (start + 700).min(n_frames);
        let block: Vec<&[f32]> = planes.iter().map(|plane| &plane[start..end]).collect();
        writer.write(&block).expect("the file can be written");
    }
    writer.finish().expect("the file can be completed");
}

#[test]
fn both_formats_come_back_exactly() {
    for format in [SampleFormat::Int24, SampleFormat::Float32] {
        for (n_channels, n_frames) in [(1, 1_001), (2, 1_001), (3, 999), (32, 500), (64, 500)] {
            let folder = tempfile::tempdir().expect("a scratch folder");
            let path = folder.path().join("x.wav");
            write(
                &path,
                WaveSpec::new(44_100, n_channels, format),
                &planes(n_frames, usize::from(n_channels)),
            );
            let (stream, found) = open_all(&path);
            check_planes(&found, Kind::S24, 0, n_frames);
            assert!(stream.repairs().is_empty(), "{:?}", stream.repairs());
            assert_eq!(stream.facts().rate_hz, 44_100, "rate");
            assert_eq!(stream.facts().is_float, format == SampleFormat::Float32, "format");
            let size = fs::metadata(&path).expect("the file is there").len();
            let bytes = fs::read(&path).expect("the file is there");
            let told = u32::from_le_bytes([bytes[4], bytes[5], bytes[6], bytes[7]]);
            assert_eq!(u64::from(told) + 8, size, "the size field counts what follows it");
        }
    }
}

#[test]
fn start_date_and_names_come_back() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let path = folder.path().join("x.wav");
    let mut spec = WaveSpec::new(48_000, 2, SampleFormat::Int24);
    spec.start_samples = Some(48_000 * (19 * 3_600 + 30 * 60 + 5));
    spec.date = Some("2031-05-06".to_owned());
    spec.track_names = vec!["Kick & <Snare>".to_owned(), "Stimme Anführer".to_owned()];
    write(&path, spec, &planes(100, 2));
    let facts = probe(&path, TrustHeader::No).expect("the file can be read");
    assert_eq!(facts.start_samples, Some(3_369_840_000), "start");
    assert_eq!(facts.date.as_deref(), Some("2031-05-06"), "date");
    assert_eq!(facts.time.as_deref(), Some("19:30:05"), "time");
    let names = [Some("Kick & <Snare>".to_owned()), Some("Stimme Anführer".to_owned())];
    assert_eq!(facts.track_names, names, "names");
}

#[test]
fn twenty_four_bits_are_rounded_to_the_nearest_step_and_held_at_full_scale() {
    const STEP: f32 = 1.0 / 8_388_608.0;
    let cases = [
        (0.4 * STEP, 0.0),
        (0.6 * STEP, STEP),
        (-0.4 * STEP, 0.0),
        (-0.6 * STEP, -STEP),
        (1.5 * STEP, 2.0 * STEP),
        (1.0, 1.0 - STEP),
        (7.5, 1.0 - STEP),
        (-1.0, -1.0),
        (-7.5, -1.0),
        (f32::NAN, 0.0),
        (f32::INFINITY, 1.0 - STEP),
        (f32::NEG_INFINITY, -1.0),
    ];
    let folder = tempfile::tempdir().expect("a scratch folder");
    let path = folder.path().join("x.wav");
    let given: Vec<f32> = cases.iter().map(|case| case.0).collect();
    write(&path, WaveSpec::new(48_000, 1, SampleFormat::Int24), &[given]);
    let (_, found) = open_all(&path);
    for ((given, expected), found) in cases.iter().zip(&found[0]) {
        assert!((found - expected).abs() < 0.01 * STEP, "{given} became {found}, not {expected}");
    }
}

#[test]
fn the_file_appears_when_it_is_whole() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let path = folder.path().join("x.wav");
    fs::write(&path, "what was there before").expect("the folder can be written");
    let spec = WaveSpec::new(48_000, 1, SampleFormat::Int24);
    let mut writer = WaveWriter::create(&path, spec.clone()).expect("the file can be begun");
    writer.write(&[&[0.5; 100]]).expect("the file can be written");
    assert_eq!(fs::read(&path).expect("it is there"), b"what was there before", "not touched yet");
    drop(writer);
    assert_eq!(fs::read(&path).expect("it is there"), b"what was there before", "not touched");
    assert_eq!(fs::read_dir(folder.path()).expect("a folder").count(), 1, "nothing left behind");
    write(&path, spec, &planes(100, 1));
    assert_eq!(fs::read_dir(folder.path()).expect("a folder").count(), 1, "one file, the new one");
    check_planes(&open_all(&path).1, Kind::S24, 0, 100);
}

#[test]
fn a_file_that_can_t_be_written_is_named() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let path = folder.path().join("none").join("x.wav");
    let spec = WaveSpec::new(48_000, 1, SampleFormat::Int24);
    let error = WaveWriter::create(&path, spec).err().expect("the folder is missing");
    assert_eq!((error.what, &error.path), ("cannot write", &path), "{error:?}");
}
