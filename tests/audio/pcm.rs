//! Plain samples come out as they were stored, bit by bit.

use deskside::audio::{Stream, TrustHeader};

use super::{check, check_planes, open_all};
use crate::support::wavefile::{
    Kind, chunk, ds64, extensible_format, plain, plain_format, put, riff, samples, sized_chunk,
    sized_riff, wave64,
};

const N: usize = 4_800;

#[test]
fn every_sample_format_is_exact() {
    for kind in Kind::ALL {
        // Samples may be unpacked four at a time: each rest of that.
        for n in N..N + 4 {
            let repairs = check(&plain(kind, n, 1, 48_000), kind, n, 1);
            assert!(repairs.is_empty(), "{kind:?} needs no repair: {repairs:?}");
        }
    }
}

#[test]
fn every_channel_count_is_exact_with_a_plain_header() {
    for n_channels in [2, 3, 8, 18, 19, 24, 26, 27, 32, 64, 128] {
        for kind in [Kind::S24, Kind::F32] {
            check(&plain(kind, 500, n_channels, 48_000), kind, 500, usize::from(n_channels));
        }
    }
}

#[test]
fn every_channel_mask_is_exact_with_an_extensible_header() {
    let masks =
        [(8, 0), (18, 0), (19, 0), (32, 0), (64, 0), (32, u32::MAX), (32, 0x3_ffff), (8, 0x63f)];
    for (n_channels, mask) in masks {
        let format = extensible_format(Kind::S24, n_channels, 48_000, mask, 24);
        let data = samples(Kind::S24, 500, usize::from(n_channels));
        let bytes = riff(&[chunk(b"fmt ", &format), chunk(b"data", &data)]);
        let repairs = check(&bytes, Kind::S24, 500, usize::from(n_channels));
        assert!(repairs.is_empty(), "mask {mask:#x} needs no repair: {repairs:?}");
    }
}

#[test]
fn fewer_valid_bits_than_stored_ones_are_told_and_exact() {
    for (kind, valid_bits) in [(Kind::S32, 24), (Kind::S24, 20)] {
        let format = extensible_format(kind, 2, 48_000, 3, valid_bits);
        let bytes = riff(&[chunk(b"fmt ", &format), chunk(b"data", &samples(kind, N, 2))]);
        check(&bytes, kind, N, 2);
        let folder = tempfile::tempdir().expect("a scratch folder");
        let (stream, _) = open_all(&put(folder.path(), "x.wav", &bytes));
        assert_eq!(stream.facts().bits, u32::from(valid_bits), "bits that carry sound");
    }
}

#[test]
fn a_plain_header_may_put_24_bits_into_four_bytes() {
    let mut format = plain_format(Kind::S24, 2, 48_000);
    format[12..14].copy_from_slice(&8_u16.to_le_bytes());
    let bytes = riff(&[chunk(b"fmt ", &format), chunk(b"data", &samples(Kind::S32, N, 2))]);
    let repairs = check(&bytes, Kind::S32, N, 2);
    assert!(repairs.is_empty(), "the frame size is lawful: {repairs:?}");
}

#[test]
fn format_chunks_of_18_20_and_40_bytes_are_read() {
    for extra in [2, 4, 24] {
        for kind in [Kind::S24, Kind::F32] {
            let mut format = plain_format(kind, 1, 44_100);
            format.resize(16 + extra, 0);
            check(
                &riff(&[chunk(b"fmt ", &format), chunk(b"data", &samples(kind, N, 1))]),
                kind,
                N,
                1,
            );
        }
    }
}

#[test]
fn sixty_four_bit_sizes_are_read() {
    let (format, data) = (plain_format(Kind::S24, 1, 48_000), samples(Kind::S24, N, 1));
    let data_bytes = data.len() as u64;
    for id in [b"RF64", b"BW64"] {
        let chunks = [
            ds64(72 + data_bytes, data_bytes, N as u64),
            chunk(b"fmt ", &format),
            sized_chunk(b"data", u32::MAX, &data),
        ];
        let repairs = check(&sized_riff(id, u32::MAX, &chunks), Kind::S24, N, 1);
        assert!(repairs.is_empty(), "a sealed file needs no repair: {repairs:?}");
    }
    let repairs = check(&wave64(&format, &data, 24 + data_bytes), Kind::S24, N, 1);
    assert!(repairs.is_empty(), "a sealed file needs no repair: {repairs:?}");
}

#[test]
fn facts_name_the_kind_of_file() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let (stream, _) = open_all(&put(folder.path(), "x.wav", &plain(Kind::F32, N, 3, 44_100)));
    let facts = stream.facts();
    assert_eq!(facts.container, "WAV", "container");
    assert_eq!((facts.bits, facts.rate_hz), (32, 44_100), "bits and rate");
    assert!(facts.is_float && !facts.is_lossy, "float, nothing lost");
    assert_eq!(facts.track_names, vec![None; 3], "a place for each name");
    let duration_s = facts.duration_s().expect("the length is known");
    assert!((duration_s - 4_800.0 / 44_100.0).abs() < 1e-12, "{duration_s} s");
}

#[test]
fn a_jump_lands_on_the_frame() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let path = put(folder.path(), "x.wav", &plain(Kind::S24, N, 5, 48_000));
    let mut stream = Stream::open(&path, TrustHeader::No).expect("the file can be read");
    for start in [4_000, 17, 0, 4_799, 123] {
        stream.seek(start as u64).expect("the file can be read there");
        let mut planes = vec![Vec::new(); 5];
        let n_got = stream.read(100, &mut planes).expect("the file can be read on");
        assert_eq!(n_got, 100.min(N - start), "frames from {start}");
        check_planes(&planes, Kind::S24, start, n_got);
    }
    stream.seek(1_000_000).expect("beyond the end is no error");
    let mut planes = vec![Vec::new(); 5];
    assert_eq!(stream.read(100, &mut planes).expect("nothing is left"), 0, "beyond the end");
}

#[test]
fn reading_appends_to_the_planes() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let path = put(folder.path(), "x.wav", &plain(Kind::S16, N, 2, 48_000));
    let mut stream = Stream::open(&path, TrustHeader::No).expect("the file can be read");
    let mut planes = vec![vec![0.25_f32; 3]; 2];
    assert_eq!(stream.read(10, &mut planes).expect("the file can be read"), 10, "frames");
    let tails: Vec<_> = planes.iter().map(|plane| plane[3..].to_vec()).collect();
    check_planes(&tails, Kind::S16, 0, 10);
    assert!(planes.iter().all(|plane| plane[..3] == [0.25; 3]), "what was there stays");
}

#[test]
fn samples_that_are_no_numbers_become_zero_and_are_counted() {
    let mut data = Vec::new();
    for sample in [0.5, f32::NAN, f32::INFINITY, -0.25, f32::NEG_INFINITY, 2.0] {
        data.extend_from_slice(&f32::to_le_bytes(sample));
    }
    let format = plain_format(Kind::F32, 1, 48_000);
    let folder = tempfile::tempdir().expect("a scratch folder");
    let bytes = riff(&[chunk(b"fmt ", &format), chunk(b"data", &data)]);
    let (stream, planes) = open_all(&put(folder.path(), "x.wav", &bytes));
    assert_eq!(stream.n_bad_samples(), 3, "bad samples");
    let truth = [0.5_f32, 0.0, 0.0, -0.25, 0.0, 2.0].map(f32::to_bits);
    let found: Vec<u32> = planes[0].iter().map(|sample| sample.to_bits()).collect();
    assert_eq!(found, truth, "the others stay, above full scale too");
}

#[test]
fn a_64_bit_float_too_large_for_32_bits_is_a_bad_sample() {
    let data = [1e300_f64.to_le_bytes(), 0.5_f64.to_le_bytes()].concat();
    let format = plain_format(Kind::F64, 1, 48_000);
    let folder = tempfile::tempdir().expect("a scratch folder");
    let bytes = riff(&[chunk(b"fmt ", &format), chunk(b"data", &data)]);
    let (stream, planes) = open_all(&put(folder.path(), "x.wav", &bytes));
    assert_eq!(stream.n_bad_samples(), 1, "bad samples");
    assert_eq!(
        planes[0].iter().map(|s| s.to_bits()).collect::<Vec<_>>(),
        [0, 0.5_f32.to_bits()],
        "samples"
    );
}
