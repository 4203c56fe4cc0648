//! Headers that lie: what a power loss, a 32-bit size field or a careless writer leaves behind.

use deskside::audio::{Stream, TrustHeader, probe};

use super::{check, check_planes, read_all};
use crate::support::wavefile::{
    Kind, chunk, ds64, length, plain_format, put, riff, samples, sized_chunk, sized_riff, wave64,
};

const N: usize = 4_800;

fn format() -> Vec<u8> {
    chunk(b"fmt ", &plain_format(Kind::S24, 1, 48_000))
}

fn data() -> Vec<u8> {
    samples(Kind::S24, N, 1)
}

/// A file with these two size fields, all of whose sound must come out; `told` stands in the sentence about it.
fn check_sizes(riff_size: u32, data_size: u32, told: Option<&str>) {
    let bytes =
        sized_riff(b"RIFF", riff_size, &[format(), sized_chunk(b"data", data_size, &data())]);
    check_told(&bytes, N, told);
}

fn check_told(bytes: &[u8], n_frames: usize, told: Option<&str>) {
    let repairs = check(bytes, Kind::S24, n_frames, 1);
    match told {
        Some(told) => {
            assert!(repairs.len() == 1 && repairs[0].contains(told), "{told:?} in {repairs:?}");
            assert!(repairs[0].ends_with('.'), "a sentence: {repairs:?}");
        }
        None => assert!(repairs.is_empty(), "nothing to repair: {repairs:?}"),
    }
}

#[test]
fn power_loss_with_data_size_0_loses_nothing() {
    let whole = 36 + length(&data());
    for riff_size in [0, 36, whole] {
        check_sizes(riff_size, 0, Some("does not say how long the sound is"));
    }
}

#[test]
fn sizes_of_all_ones_are_read_to_the_end() {
    for riff_size in [u32::MAX, 36 + length(&data())] {
        check_sizes(riff_size, u32::MAX, Some("does not say how long the sound is"));
    }
}

#[test]
fn a_wrong_riff_size_alone_does_no_harm() {
    for riff_size in [0, 36, 28 + length(&data()), 1 << 30] {
        check_sizes(riff_size, length(&data()), None);
    }
}

#[test]
fn sizes_written_in_advance_end_with_the_file() {
    for riff_size in [36 + (1 << 30), 36 + length(&data())] {
        check_sizes(riff_size, 1 << 30, Some("promises 2 h 04 min 16 s, the file holds 0.1 s"));
    }
}

#[test]
fn a_header_updated_half_way_loses_nothing() {
    let half = length(&data()) / 2;
    check_sizes(36 + half, half, Some("knows of 0.1 s, the file goes on to 0.1 s"));
}

#[test]
fn a_few_bytes_after_the_sound_are_left_out() {
    let bytes = [riff(&[format(), chunk(b"data", &data())]), vec![0xff; 128]].concat();
    check_told(&bytes, N, Some("128 bytes after the sound"));
}

#[test]
fn a_file_cut_inside_a_frame_gives_the_whole_ones() {
    let bytes = riff(&[format(), chunk(b"data", &data())]);
    let repairs = check(&bytes[..bytes.len() - 4], Kind::S24, N - 2, 1);
    assert_eq!(repairs.len(), 2, "the missing end and the cut frame: {repairs:?}");
    assert!(repairs[1].contains("inside a sample"), "{repairs:?}");
}

#[test]
fn an_empty_recording_with_notes_after_it_is_not_taken_for_sound() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let bytes = riff(&[format(), chunk(b"data", &[]), chunk(b"LIST", b"INFOISFT\x04\0\0\0abc\0")]);
    let path = put(folder.path(), "x.wav", &bytes);
    let error = probe(&path, TrustHeader::No).expect_err("there is no sound");
    assert!(error.cause.contains("no sound after it"), "{error:?}");
}

#[test]
fn unsealed_64_bit_files_are_read_to_the_end() {
    let told = Some("does not say how long the sound is");
    let chunks = [ds64(0, 0, 0), format(), sized_chunk(b"data", u32::MAX, &data())];
    check_told(&sized_riff(b"RF64", u32::MAX, &chunks), N, told);
    let format = plain_format(Kind::S24, 1, 48_000);
    for size in [0, 24, u64::MAX] {
        check_told(&wave64(&format, &data(), size), N, told);
    }
}

#[test]
fn a_wrong_frame_size_is_put_right() {
    let mut format = plain_format(Kind::S24, 1, 48_000);
    format[12] = 77;
    let bytes = riff(&[chunk(b"fmt ", &format), chunk(b"data", &data())]);
    check_told(&bytes, N, Some("frame size"));
}

#[test]
fn chunks_in_any_order_and_of_any_kind_do_no_harm() {
    let cue = [&2_u32.to_le_bytes()[..], &[0; 48]].concat();
    let label =
        chunk(b"LIST", &[b"adtl".as_slice(), &chunk(b"labl", b"\x01\0\0\0Song A\0")].concat());
    let orders = [
        vec![chunk(b"data", &data()), format()],
        vec![chunk(b"JUNK", &[0; 28]), format(), chunk(b"data", &data())],
        vec![chunk(b"PAD ", &[0; 65_000]), format(), chunk(b"data", &data())],
        vec![chunk(b"abcd", b"xyz"), format(), chunk(b"data", &data())],
        vec![format(), chunk(b"fact", &[0; 12]), chunk(b"data", &data())],
        vec![format(), chunk(b"data", &data()), chunk(b"cue ", &cue), label.clone()],
        vec![chunk(b"cue ", &cue), label, format(), chunk(b"data", &data())],
        vec![format(), chunk(b"data", &data()), chunk(b"zzzz", b"odd"), chunk(b"yyyy", b"even")],
    ];
    for chunks in orders {
        check_told(&riff(&chunks), N, None);
    }
}

#[test]
fn a_missing_pad_byte_is_found() {
    let odd = sized_chunk(b"abcd", 3, b"xyz");
    check_told(&riff(&[odd, format(), chunk(b"data", &data())]), N, Some("pad byte"));
    let n_frames = 4_801;
    let data = samples(Kind::S24, n_frames, 1);
    let bytes =
        riff(&[format(), sized_chunk(b"data", length(&data), &data), chunk(b"LIST", b"INFO")]);
    check_told(&bytes, n_frames, Some("pad byte"));
    check_told(&riff(&[format(), sized_chunk(b"data", length(&data), &data)]), n_frames, None);
}

#[test]
fn a_trusted_header_is_taken_at_its_word() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let half = length(&data()) / 2;
    let sized =
        |size| sized_riff(b"RIFF", 36 + size, &[format(), sized_chunk(b"data", size, &data())]);
    let path = put(folder.path(), "half.wav", &sized(half));
    let mut stream = Stream::open(&path, TrustHeader::Yes).expect("the file can be read");
    check_planes(&read_all(&mut stream), Kind::S24, 0, N / 2);
    assert!(stream.repairs().is_empty(), "nothing was repaired: {:?}", stream.repairs());
    let path = put(folder.path(), "none.wav", &sized(0));
    let error = probe(&path, TrustHeader::Yes).expect_err("the header says that there is no sound");
    assert!(error.hint.contains("--trust-header"), "{error:?}");
}

#[test]
fn a_file_that_shrinks_while_it_is_read_ends_early_and_says_so() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let path = put(folder.path(), "x.wav", &riff(&[format(), chunk(b"data", &data())]));
    let mut stream = Stream::open(&path, TrustHeader::No).expect("the file can be read");
    let file = std::fs::OpenOptions::new().write(true).open(&path).expect("the file can be cut");
    file.set_len(44 + 3 * 1_000).expect("the file can be cut");
    check_planes(&read_all(&mut stream), Kind::S24, 0, 1_000);
    assert!(stream.repairs()[0].contains("became shorter"), "{:?}", stream.repairs());
}
