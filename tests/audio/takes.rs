//! A recorder's consecutive files make one gapless stream.

use std::path::PathBuf;

use deskside::audio::{Takes, TrustHeader};

use super::check_planes;
use crate::support::wavefile::{
    Kind, chunk, plain, plain_format, put, riff, samples, sized_chunk, sized_riff,
};

const N: usize = 6_000;

/// The test signal of two channels cut at these frames into files.
fn parts(folder: &std::path::Path, cuts: &[usize]) -> Vec<PathBuf> {
    let data = samples(Kind::S24, N, 2);
    let format = chunk(b"fmt ", &plain_format(Kind::S24, 2, 48_000));
    let edges = [&[0], cuts, &[N]].concat();
    let part = |(idx, edge): (usize, &[usize])| {
        let sound = chunk(b"data", &data[6 * edge[0]..6 * edge[1]]);
        put(folder, &format!("x{idx}.wav"), &riff(&[format.clone(), sound]))
    };
    edges.windows(2).enumerate().map(part).collect()
}

#[test]
fn parts_join_without_a_gap() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    for cuts in [&[][..], &[2_000], &[1, 2, 5_999]] {
        let mut takes = Takes::new(parts(folder.path(), cuts), TrustHeader::No).expect("they fit");
        assert_eq!(takes.n_frames(), Some(N as u64), "length");
        assert_eq!((takes.n_channels(), takes.rate_hz()), (2, 48_000), "channels and rate");
        assert_eq!(takes.facts().len(), cuts.len() + 1, "files");
        let mut planes = vec![Vec::new(); 2];
        while takes.read(777, &mut planes).expect("the files can be read") > 0 {}
        check_planes(&planes, Kind::S24, 0, N);
    }
}

#[test]
fn a_block_spans_the_border_between_files() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let mut takes =
        Takes::new(parts(folder.path(), &[100, 200]), TrustHeader::No).expect("they fit");
    let mut planes = vec![Vec::new(); 2];
    assert_eq!(takes.read(250, &mut planes).expect("the files can be read"), 250, "frames");
    check_planes(&planes, Kind::S24, 0, 250);
}

#[test]
fn a_jump_lands_in_the_right_file() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let mut takes =
        Takes::new(parts(folder.path(), &[100, 4_000]), TrustHeader::No).expect("they fit");
    for start in [5_000, 99, 0, 100, 3_990, 5_999, N] {
        takes.seek(start as u64).expect("the files can be read there");
        let mut planes = vec![Vec::new(); 2];
        let n_got = takes.read(50, &mut planes).expect("the files can be read");
        assert_eq!(n_got, 50.min(N - start), "frames from {start}");
        check_planes(&planes, Kind::S24, start, n_got);
    }
}

#[test]
fn a_part_that_differs_is_named() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let mut paths = parts(folder.path(), &[3_000]);
    paths.push(put(folder.path(), "odd.wav", &plain(Kind::S24, 10, 3, 48_000)));
    let error = Takes::new(paths.clone(), TrustHeader::No).err().expect("they do not fit");
    assert!(error.path.ends_with("odd.wav"), "{error:?}");
    assert!(error.cause.contains("3 channels at 48000 Hz"), "{error:?}");
    paths[2] = put(folder.path(), "odd.wav", &plain(Kind::S24, 10, 2, 44_100));
    let error = Takes::new(paths, TrustHeader::No).err().expect("they do not fit");
    assert!(error.cause.contains("44100 Hz"), "{error:?}");
}

#[test]
fn repairs_and_bad_samples_of_all_parts_are_kept() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let format = chunk(b"fmt ", &plain_format(Kind::F32, 1, 48_000));
    let nan = f32::NAN.to_le_bytes();
    let cut = sized_riff(b"RIFF", 36, &[format, sized_chunk(b"data", 0, &nan.repeat(3))]);
    let paths = vec![
        put(folder.path(), "1.wav", &cut),
        put(folder.path(), "2.wav", &plain(Kind::F32, 10, 1, 48_000)),
        put(folder.path(), "3.wav", &cut),
    ];
    let mut takes = Takes::new(paths, TrustHeader::No).expect("they fit");
    let mut planes = vec![Vec::new()];
    assert_eq!(takes.read(100, &mut planes).expect("the files can be read"), 16, "frames");
    assert_eq!(takes.n_bad_samples(), 6, "bad samples");
    let repairs = takes.repairs();
    assert_eq!(repairs.len(), 2, "{repairs:?}");
    assert!(repairs[0].starts_with("1.wav: ") && repairs[1].starts_with("3.wav: "), "{repairs:?}");
}
