//! Files other than WAV, built byte by byte from their published layouts.
//!
//! AIFF and AIFF-C from the Audio Interchange File Format 1.3 and its draft C extension, CAF from the Core Audio
//! Format specification 1.0, FLAC from RFC 9639 (verbatim frames, which need no prediction).

use super::wavefile::value;

/// Frames of a FLAC block.
const FLAC_BLOCK: usize = 1_152;

/// The lowest `n_bytes` bytes of a number, highest first.
fn big(number: u64, n_bytes: usize) -> Vec<u8> {
    number.to_be_bytes()[8 - n_bytes..].to_vec()
}

/// The test signal as 24-bit numbers, highest byte first.
pub(crate) fn samples_24be(n_frames: usize, n_channels: usize) -> Vec<u8> {
    let mut bytes = Vec::new();
    for n in 0..n_frames {
        for c in 0..n_channels {
            bytes.extend_from_slice(&value(n, c).to_be_bytes()[1..]);
        }
    }
    bytes
}

fn iff(id: &[u8; 4], body: &[u8]) -> Vec<u8> {
    let mut bytes = [id.as_slice(), &big(body.len() as u64, 4), body].concat();
    if body.len() % 2 == 1 {
        bytes.push(0);
    }
    bytes
}

/// 48 000 as an 80-bit extended float: 1.46484375 times 2^15.
const RATE_48000: [u8; 10] = [0x40, 0x0e, 0xbb, 0x80, 0, 0, 0, 0, 0, 0];

/// An AIFF file of 24 bits at 48 kHz.
pub(crate) fn aiff(n_frames: usize, n_channels: usize) -> Vec<u8> {
    let common =
        [big(n_channels as u64, 2), big(n_frames as u64, 4), big(24, 2), RATE_48000.to_vec()]
            .concat();
    let sound = [vec![0; 8], samples_24be(n_frames, n_channels)].concat();
    iff(b"FORM", &[b"AIFF".to_vec(), iff(b"COMM", &common), iff(b"SSND", &sound)].concat())
}

/// An AIFF-C file of 32-bit floats at 48 kHz.
pub(crate) fn aifc_float(samples: &[f32]) -> Vec<u8> {
    let common = [
        big(1, 2),
        big(samples.len() as u64, 4),
        big(32, 2),
        RATE_48000.to_vec(),
        b"fl32\x00\x00".to_vec(),
    ]
    .concat();
    let floats: Vec<u8> = samples.iter().flat_map(|sample| sample.to_be_bytes()).collect();
    let version = iff(b"FVER", &big(0xa280_5140, 4));
    let sound = iff(b"SSND", &[vec![0; 8], floats].concat());
    iff(b"FORM", &[b"AIFC".to_vec(), version, iff(b"COMM", &common), sound].concat())
}

/// A CAF file of 24 bits, highest byte first, at 48 kHz.
pub(crate) fn caf(n_frames: usize, n_channels: usize) -> Vec<u8> {
    let part =
        |id: &[u8; 4], body: &[u8]| [id.as_slice(), &big(body.len() as u64, 8), body].concat();
    let description = [
        48_000_f64.to_be_bytes().to_vec(),
        b"lpcm".to_vec(),
        big(0, 4),
        big(3 * n_channels as u64, 4),
        big(1, 4),
        big(n_channels as u64, 4),
        big(24, 4),
    ]
    .concat();
    let sound = [vec![0; 4], samples_24be(n_frames, n_channels)].concat();
    [b"caff\0\x01\0\0".to_vec(), part(b"desc", &description), part(b"data", &sound)].concat()
}

/// A FLAC file of 24 bits at 48 kHz in verbatim frames.
pub(crate) fn flac(n_frames: usize, n_channels: usize) -> Vec<u8> {
    let mut bytes = b"fLaC".to_vec();
    bytes.extend_from_slice(&[0x80, 0, 0, 34]);
    bytes.extend_from_slice(
        &[big(FLAC_BLOCK as u64, 2), big(FLAC_BLOCK as u64, 2), vec![0; 6]].concat(),
    );
    // 20 bits rate, 3 bits channels - 1, 5 bits bits - 1, 36 bits length.
    let packed = 48_000_u64 << 44 | (n_channels as u64 - 1) << 41 | 23 << 36 | n_frames as u64;
    bytes.extend_from_slice(&packed.to_be_bytes());
    bytes.extend_from_slice(&[0; 16]);
    for block_idx in 0..n_frames.div_ceil(FLAC_BLOCK) {
        let start = block_idx * FLAC_BLOCK;
        let end = (start + FLAC_BLOCK).min(n_frames);
        bytes.extend_from_slice(&flac_frame(block_idx, start, end, n_channels));
    }
    bytes
}

fn flac_frame(block_idx: usize, start: usize, end: usize, n_channels: usize) -> Vec<u8> {
    // Fixed block size; the length in 16 bits at the end of the head; 48 kHz; independent channels; 24 bits.
    let mut frame = vec![0xff, 0xf8, 0x7a];
    frame.push(u8::try_from(n_channels - 1).expect("up to 8 channels") << 4 | 0b1100);
    frame.push(u8::try_from(block_idx).ok().filter(|&n| n < 128).expect("a short file"));
    frame.extend_from_slice(&big((end - start - 1) as u64, 2));
    frame.push(crc8(&frame));
    for c in 0..n_channels {
        frame.push(0b10);
        for n in start..end {
            frame.extend_from_slice(&value(n, c).to_be_bytes()[1..]);
        }
    }
    let check = crc16(&frame);
    frame.extend_from_slice(&check.to_be_bytes());
    frame
}

/// Polynomial x^8 + x^2 + x + 1 (RFC 9639, 9.1.8).
fn crc8(bytes: &[u8]) -> u8 {
    bytes.iter().fold(0_u8, |crc, byte| {
        (0..8).fold(crc ^ byte, |crc, _| if crc & 0x80 > 0 { crc << 1 ^ 0x07 } else { crc << 1 })
    })
}

/// Polynomial x^16 + x^15 + x^2 + 1 (RFC 9639, 9.3).
fn crc16(bytes: &[u8]) -> u16 {
    bytes.iter().fold(0_u16, |crc, byte| {
        (0..8).fold(crc ^ u16::from(*byte) << 8, |crc, _| {
            if crc & 0x8000 > 0 { crc << 1 ^ 0x8005 } else { crc << 1 }
        })
    })
}
