//! Hostile bytes: whatever a file holds, it is read or refused; nothing panics, hangs or asks for all memory.

use deskside::audio::{Stream, TrustHeader};
use proptest::prelude::*;

use crate::support::codedfile::{aiff, caf, flac};
use crate::support::wavefile::{
    Kind, chunk, ds64, extensible_format, plain, plain_format, put, riff, samples, sized_chunk,
    sized_riff, wave64,
};

/// Opens the bytes as a file, reads a little here and there, and checks what must hold of any file.
fn survive(name: &str, bytes: &[u8]) {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let path = put(folder.path(), name, bytes);
    for trust in [TrustHeader::No, TrustHeader::Yes] {
        let Ok(mut stream) = Stream::open(&path, trust) else { continue };
        let n_channels = stream.facts().n_channels;
        assert!(n_channels > 0 && stream.facts().rate_hz > 0, "{:?}", stream.facts());
        assert_eq!(stream.facts().track_names.len(), n_channels, "a place for each name");
        for start in [0, 50, 1_000_000, u64::MAX] {
            let mut planes = vec![Vec::new(); n_channels];
            let done = stream.seek(start).and_then(|()| stream.read(300, &mut planes));
            let n_got = done.unwrap_or(0);
            assert!(n_got <= 300, "{n_got} frames");
            assert!(planes.iter().flatten().all(|sample| sample.is_finite()), "numbers only");
        }
    }
}

/// Right files of every family to spoil.
fn seeds() -> Vec<(&'static str, Vec<u8>)> {
    let data = samples(Kind::S24, 200, 2);
    let format = plain_format(Kind::S24, 2, 48_000);
    let size = data.len() as u64;
    let wide = extensible_format(Kind::S24, 64, 48_000, 0, 24);
    let notes = [
        chunk(b"bext", &[b'1'; 640]),
        chunk(
            b"iXML",
            b"<BWFXML><TRACK><CHANNEL_INDEX>1</CHANNEL_INDEX><NAME>A</NAME></TRACK></BWFXML>",
        ),
        chunk(b"LIST", &[b"INFO".to_vec(), chunk(b"INAM", b"odd")].concat()),
    ]
    .concat();
    let middle = [chunk(b"fmt ", &format), chunk(b"data", &data)].concat();
    let rf64 = [
        ds64(72 + size, size, 200),
        chunk(b"fmt ", &format),
        sized_chunk(b"data", u32::MAX, &data),
    ];
    vec![
        ("x.wav", plain(Kind::S24, 200, 2, 48_000)),
        ("x.wav", plain(Kind::F32, 200, 1, 48_000)),
        ("x.wav", riff(&[chunk(b"fmt ", &wide), chunk(b"data", &samples(Kind::S24, 20, 64))])),
        ("x.wav", riff(&[notes.clone(), middle.clone()])),
        ("x.wav", riff(&[middle, notes])),
        ("x.wav", sized_riff(b"RF64", u32::MAX, &rf64)),
        ("x.w64", wave64(&format, &data, 24 + size)),
        ("x.aiff", aiff(200, 2)),
        ("x.caf", caf(200, 2)),
        ("x.flac", flac(2_000, 1)),
    ]
}

/// Bytes that hurt: zeros, ones, and the borders of signed and unsigned sizes.
fn nasty() -> impl Strategy<Value = Vec<u8>> {
    prop_oneof![
        proptest::collection::vec(any::<u8>(), 1..9),
        Just(vec![0; 4]),
        Just(vec![0xff; 4]),
        Just(vec![0xff; 8]),
        Just(vec![0xff, 0xff, 0xff, 0x7f]),
        Just(vec![0, 0, 0, 0x80]),
        Just(b"data".to_vec()),
        Just(b"fmt ".to_vec()),
        Just(b"ds64".to_vec()),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_bytes_are_survived(bytes in proptest::collection::vec(any::<u8>(), 0..600)) {
        survive("x.wav", &bytes);
    }

    #[test]
    fn any_bytes_after_a_mark_are_survived(
        mark in 0_usize..4,
        bytes in proptest::collection::vec(prop_oneof![any::<u8>(), Just(0), Just(0xff)], 0..300),
    ) {
        let mark = [
            b"RIFF\0\0\0\0WAVEfmt ",
            b"RF64\xff\xff\xff\xffWAVEds64",
            b"BW64\0\0\0\0WAVEdata",
            b"RIFF\0\0\0\0WAVEbext",
        ][mark];
        survive("x.wav", &[mark.as_slice(), &bytes].concat());
    }

    #[test]
    fn spoiled_headers_are_survived(
        which in 0_usize..10,
        changes in proptest::collection::vec((0_usize..200, nasty()), 1..6),
        cut in proptest::option::of(0_usize..700),
    ) {
        let (name, mut bytes) = seeds().swap_remove(which);
        for (at, change) in changes {
            for (offset, byte) in change.into_iter().enumerate() {
                if let Some(place) = bytes.get_mut(at + offset) {
                    *place = byte;
                }
            }
        }
        bytes.truncate(cut.unwrap_or(usize::MAX));
        survive(name, &bytes);
    }
}

#[test]
fn a_thousand_empty_chunks_do_not_hide_the_end() {
    let bytes = riff(&vec![chunk(b"abcd", &[]); 100_000]);
    survive("x.wav", &bytes);
}

#[test]
fn sizes_at_the_border_of_64_bits_are_survived() {
    let (format, data) = (plain_format(Kind::S24, 2, 48_000), samples(Kind::S24, 200, 2));
    for size in [0, 1, 23, 24, 25, (1 << 63) - 1, 1 << 63, u64::MAX - 7, u64::MAX] {
        survive("x.w64", &wave64(&format, &data, size));
        let chunks = [
            ds64(size, size, size),
            chunk(b"fmt ", &format),
            sized_chunk(b"data", u32::MAX, &data),
        ];
        survive("x.wav", &sized_riff(b"RF64", u32::MAX, &chunks));
    }
}
