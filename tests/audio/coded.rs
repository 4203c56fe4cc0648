//! Sound that goes through the decoding library.

use deskside::audio::{Stream, TrustHeader};

use super::{check_planes, open_all, read_all};
use crate::support::codedfile::{aifc_float, aiff, caf, flac};
use crate::support::wavefile::{Kind, chunk, put, riff, sized_chunk, sized_riff, tagged_format};

const N: usize = 4_800;

fn check_coded(name: &str, bytes: &[u8], container: &str, n_channels: usize) {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let path = put(folder.path(), name, bytes);
    let (stream, planes) = open_all(&path);
    let facts = stream.facts();
    assert_eq!(facts.container, container, "container");
    assert_eq!((facts.n_channels, facts.rate_hz, facts.bits), (n_channels, 48_000, 24), "{name}");
    assert_eq!(facts.n_frames, Some(N as u64), "length of {name}");
    assert!(!facts.is_lossy && facts.repairs.is_empty(), "{facts:?}");
    check_planes(&planes, Kind::S24, 0, N);
    let mut stream = Stream::open(&path, TrustHeader::No).expect("the file can be read");
    for start in [4_000, 17, 0, 4_799, 2_304] {
        stream.seek(start as u64).expect("the file can be read there");
        let mut planes = vec![Vec::new(); n_channels];
        let n_got = stream.read(100, &mut planes).expect("the file can be read on");
        assert_eq!(n_got, 100.min(N - start), "frames of {name} from {start}");
        check_planes(&planes, Kind::S24, start, n_got);
    }
    stream.seek(N as u64).expect("the end is no error");
    assert!(read_all(&mut stream)[0].is_empty(), "nothing is left at the end of {name}");
}

#[test]
fn aiff_is_exact() {
    check_coded("x.aiff", &aiff(N, 2), "AIFF", 2);
    check_coded("x.aif", &aiff(N, 32), "AIFF", 32);
}

#[test]
fn caf_is_exact() {
    check_coded("x.caf", &caf(N, 2), "CAF", 2);
}

#[test]
fn flac_is_exact() {
    check_coded("x.flac", &flac(N, 1), "FLAC", 1);
    check_coded("x.flac", &flac(N, 8), "FLAC", 8);
}

#[test]
fn a_wrong_extension_does_no_harm() {
    check_coded("x.wav", &flac(N, 2), "FLAC", 2);
}

#[test]
fn a_damaged_flac_frame_keeps_what_follows_in_its_place() {
    let mut bytes = flac(N, 1);
    // Inside the second frame: its checksum no longer fits.
    bytes[4_000 + 1_152] ^= 0xff;
    let folder = tempfile::tempdir().expect("a scratch folder");
    let (stream, planes) = open_all(&put(folder.path(), "x.flac", &bytes));
    assert_eq!(planes[0].len(), N, "the length stays");
    check_planes(&[planes[0][..1_152].to_vec()], Kind::S24, 0, 1_152);
    assert!(planes[0][1_152..2_304].iter().all(|&sample| sample.abs() <= 0.0), "silence instead");
    check_planes(&[planes[0][2_304..].to_vec()], Kind::S24, 2_304, N - 2_304);
    assert!(stream.repairs()[0].starts_with("1 piece"), "{:?}", stream.repairs());
}

#[test]
fn a_truncated_flac_file_ends_early_and_says_so() {
    let bytes = flac(N, 1);
    let folder = tempfile::tempdir().expect("a scratch folder");
    let (stream, planes) = open_all(&put(folder.path(), "x.flac", &bytes[..bytes.len() / 2]));
    assert_eq!(planes[0].len(), 2 * 1_152, "the whole frames");
    check_planes(&planes, Kind::S24, 0, 2 * 1_152);
    assert!(
        stream.repairs()[0].starts_with("Nothing could be read after"),
        "{:?}",
        stream.repairs()
    );
}

#[test]
fn floats_of_aiff_c_that_are_no_numbers_become_zero() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let path = put(folder.path(), "x.aifc", &aifc_float(&[0.5, f32::NAN, -0.25, f32::INFINITY]));
    let (stream, planes) = open_all(&path);
    assert!(stream.facts().is_float, "{:?}", stream.facts());
    assert_eq!(stream.n_bad_samples(), 2, "bad samples");
    let found: Vec<u32> = planes[0].iter().map(|sample| sample.to_bits()).collect();
    assert_eq!(found, [0.5_f32, 0.0, -0.25, 0.0].map(f32::to_bits), "samples");
}

/// Codes and their values on the 16-bit scale, from the tables of ITU-T G.711 (13 and 14 bits, moved up).
const A_LAW: [(u8, i16); 4] = [(0xd5, 8), (0x55, -8), (0xaa, 32_256), (0x2a, -32_256)];
const MU_LAW: [(u8, i16); 4] = [(0xff, 0), (0x80, 32_124), (0x00, -32_124), (0xef, 132)];

#[test]
fn companded_speech_is_decoded_and_its_header_repaired() {
    for (tag, codes) in [(6, A_LAW), (7, MU_LAW)] {
        let data = codes.map(|(code, _)| code);
        let format = chunk(b"fmt ", &tagged_format(tag, 8, 1, 8_000));
        let right = riff(&[format.clone(), chunk(b"data", &data)]);
        let cut = sized_riff(b"RIFF", 36, &[format, sized_chunk(b"data", 0, &data)]);
        for (bytes, n_repairs) in [(right, 0), (cut, 1)] {
            let folder = tempfile::tempdir().expect("a scratch folder");
            let (stream, planes) = open_all(&put(folder.path(), "x.wav", &bytes));
            let found: Vec<f32> = planes[0].iter().map(|sample| sample * 32_768.0).collect();
            let truth = codes.map(|(_, value)| f32::from(value));
            let exact = found.iter().zip(truth).all(|(a, b)| a.to_bits() == (b + 0.0).to_bits());
            assert!(exact && found.len() == 4, "tag {tag}: {found:?}, {truth:?} expected");
            assert!(stream.facts().is_lossy, "companding loses sound");
            assert_eq!(stream.repairs().len(), n_repairs, "{:?}", stream.repairs());
        }
    }
}

#[test]
fn adpcm_is_left_to_the_decoding_library() {
    // One block of 36 bytes: first sample 1000, step index 0, then 64 codes. A code of 0 adds an eighth of the step
    // of 7, which is 0 in whole numbers, and leaves the index at 0 (IMA recommended practices 3.0, 6.1).
    let mut block = vec![0_u8; 36];
    block[..2].copy_from_slice(&1_000_i16.to_le_bytes());
    let mut format = tagged_format(0x11, 4, 1, 48_000);
    format[12..14].copy_from_slice(&36_u16.to_le_bytes());
    format.extend_from_slice(&[2, 0, 65, 0]);
    let fact = chunk(b"fact", &65_u32.to_le_bytes());
    let bytes = riff(&[chunk(b"fmt ", &format), fact, chunk(b"data", &block)]);
    let folder = tempfile::tempdir().expect("a scratch folder");
    let (stream, planes) = open_all(&put(folder.path(), "x.wav", &bytes));
    assert_eq!(stream.facts().container, "WAV", "container");
    assert!(stream.facts().is_lossy, "lossy");
    assert!(planes[0].len() >= 65, "{} frames", planes[0].len());
    let steady = planes[0][..65].iter().all(|s| (s * 32_768.0 - 1_000.0).abs() < 0.5);
    assert!(steady, "{:?}", &planes[0][..65]);
}

/// Two tones as encoders of general-purpose libraries wrote them (`corpus/README.md`): 1 kHz at -12 dBFS left, 500 Hz at
/// -18 dBFS right; how far a level may be off, in dB, and a sample after a jump.
fn check_tones(name: &str, container: &str, n_frames: usize, level_db: f64, after_jump: f32) {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus/coded").join(name);
    let (stream, planes) = open_all(&path);
    assert_eq!(stream.facts().container, container, "{name}");
    assert_eq!((stream.facts().n_channels, stream.facts().rate_hz), (2, 48_000), "{name}");
    // Encoders of frames may leave their padding at the end.
    let stated = stream.facts().n_frames.expect("a length is stated") as usize;
    assert!(stated.abs_diff(planes[0].len()) < 2_400, "length that {name} states: {stated}");
    assert!((n_frames..n_frames + 2_400).contains(&planes[0].len()), "{name}: {}", planes[0].len());
    for (plane, (hz, peak_dbfs)) in planes.iter().zip([(1_000.0, -12.0), (500.0, -18.0)]) {
        let middle = &plane[2_400..n_frames - 2_400];
        let (mut re, mut im, mut power) = (0.0, 0.0, 0.0);
        for (at, &sample) in (0..).zip(middle) {
            let (sin, cos) = (std::f64::consts::TAU * hz * f64::from(at) / 48_000.0).sin_cos();
            let sample = f64::from(sample);
            (re, im, power) = (re + sample * cos, im + sample * sin, power + sample * sample);
        }
        let n = middle.len() as f64;
        let tone_dbfs = 20.0 * (2.0 * re.hypot(im) / n).log10();
        assert!((tone_dbfs - peak_dbfs).abs() < level_db, "{name}, {hz} Hz: {tone_dbfs} dBFS");
        let all_dbfs = 10.0 * (2.0 * power / n).log10();
        assert!((all_dbfs - peak_dbfs).abs() < level_db, "{name}: {all_dbfs} dBFS");
    }
    let mut stream = Stream::open(&path, TrustHeader::No).expect("the file can be read");
    for start in [5_000, 1_234, 4_096] {
        stream.seek(start as u64).expect("the file can be read there");
        let mut after = vec![Vec::new(); 2];
        let n_got = stream.read(2_000, &mut after).expect("the file can be read on");
        assert_eq!(n_got, 2_000, "{name} from {start}");
        for (plane, after) in planes.iter().zip(&after) {
            let off = plane[start..].iter().zip(after).map(|(a, b)| (a - b).abs());
            let most = off.fold(0.0, f32::max);
            assert!(most <= after_jump, "{name} from {start}: off by {most}");
        }
    }
}

#[test]
fn sound_that_an_encoder_made_comes_out_at_its_level_and_place() {
    check_tones("tones-lossless.m4a", "MP4", 9_600, 0.01, 0.0);
    check_tones("tones.ogg", "Ogg", 48_000, 0.2, 0.0);
    check_tones("tones.m4a", "MP4", 48_000, 0.3, 0.0);
    // Encoders of MP3 keep half a decibel of room.
    check_tones("tones.mp3", "MP3", 48_000, 0.5, 0.0);
}
