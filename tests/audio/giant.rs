//! Files beyond 4 GiB: sparse ones, of which only the header and a little sound at the end take room.

use std::fs::OpenOptions;
use std::io::{Seek, SeekFrom, Write};
use std::path::PathBuf;

use deskside::audio::{Stream, TrustHeader};

use super::check_planes;
use crate::support::wavefile::{
    Kind, chunk, ds64, extensible_format, plain_format, put, samples, sized_chunk, sized_riff,
};

/// Frames of sound at the very end; all before is silence.
const TAIL: usize = 100;

/// The size field that a length of more than 32 bits leaves behind.
fn wrapped(size: u64) -> u32 {
    u32::try_from(size & 0xffff_ffff).expect("32 bits")
}

/// A file with this header, silence, the tail, and chunks after it.
fn sparse(
    folder: &tempfile::TempDir,
    head: &[u8],
    data_bytes: u64,
    tail: &[u8],
    after: &[u8],
) -> PathBuf {
    let path = put(folder.path(), "x.wav", head);
    let mut file = OpenOptions::new().write(true).open(&path).expect("the file can be written");
    let end = head.len() as u64 + data_bytes;
    file.set_len(end).expect("the file system knows sparse files");
    file.seek(SeekFrom::Start(end - tail.len() as u64)).expect("the file can be written");
    file.write_all(&[tail, after].concat()).expect("the file can be written");
    path
}

/// Checks the length, the silence at the begin and the sound at the end; gives the repairs.
fn check_giant(path: &std::path::Path, n_frames: u64, n_channels: usize) -> Vec<String> {
    let mut stream = Stream::open(path, TrustHeader::No).expect("the file can be read");
    assert_eq!(stream.facts().n_frames, Some(n_frames), "length: {:?}", stream.facts());
    let mut planes = vec![Vec::new(); n_channels];
    stream.read(1_000, &mut planes).expect("the begin can be read");
    assert!(planes.iter().flatten().all(|&sample| sample.abs() <= 0.0), "silence at the begin");
    planes.iter_mut().for_each(Vec::clear);
    stream.seek(n_frames - TAIL as u64).expect("the end can be reached");
    assert_eq!(stream.read(1_000, &mut planes).expect("the end can be read"), TAIL, "the tail");
    check_planes(&planes, Kind::S24, 0, TAIL);
    stream.repairs().to_vec()
}

#[test]
fn half_an_hour_of_32_channels_in_rf64_seeks_to_the_end() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let n_frames = 48_000 * 1_800;
    let data_bytes = n_frames * 96;
    let format = extensible_format(Kind::S24, 32, 48_000, 0, 24);
    let chunks = [
        ds64(96 + data_bytes, data_bytes, n_frames),
        chunk(b"fmt ", &format),
        sized_chunk(b"data", u32::MAX, &[]),
    ];
    let head = sized_riff(b"RF64", u32::MAX, &chunks);
    let path = sparse(&folder, &head, data_bytes, &samples(Kind::S24, TAIL, 32), &[]);
    let repairs = check_giant(&path, n_frames, 32);
    assert!(repairs.is_empty(), "{repairs:?}");
}

/// 4.8 GB of one channel with these size fields, and chunks after the sound.
fn check_mono(riff_size: u32, data_size: u32, after: &[u8], told: &str) {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let n_frames = 1_600_000_000;
    let format = chunk(b"fmt ", &plain_format(Kind::S24, 1, 48_000));
    let head = sized_riff(b"RIFF", riff_size, &[format, sized_chunk(b"data", data_size, &[])]);
    let tail = samples(Kind::S24, TAIL, 1);
    let path = sparse(&folder, &head, 3 * n_frames, &tail, after);
    let repairs = check_giant(&path, n_frames, 1);
    assert!(repairs.len() == 1 && repairs[0].contains(told), "{told:?} in {repairs:?}");
}

#[test]
fn a_size_wrapped_to_32_bits_loses_nothing() {
    let size = 4_800_000_000;
    check_mono(wrapped(size + 36), wrapped(size), &[], "too long for the size field");
    let notes = chunk(b"iXML", b"<BWFXML/>");
    check_mono(wrapped(size + 52), wrapped(size), &notes, "too long for the size field");
}

#[test]
fn sizes_of_all_ones_beyond_4_gib_are_read_to_the_end() {
    check_mono(u32::MAX, u32::MAX, &[], "does not say how long the sound is");
}

#[test]
fn power_loss_beyond_4_gib_loses_nothing() {
    check_mono(36, 0, &[], "does not say how long the sound is");
}

#[test]
fn the_largest_plain_file_is_read_without_repair() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let data_bytes: u32 = 3_900_000_000;
    let format = chunk(b"fmt ", &plain_format(Kind::S24, 1, 48_000));
    let chunks = [format, sized_chunk(b"data", data_bytes, &[])];
    let head = sized_riff(b"RIFF", data_bytes + 36, &chunks);
    let tail = samples(Kind::S24, TAIL, 1);
    let path = sparse(&folder, &head, u64::from(data_bytes), &tail, &[]);
    let repairs = check_giant(&path, 1_300_000_000, 1);
    assert!(repairs.is_empty(), "{repairs:?}");
}
