//! WAV files built byte by byte, right and wrong ones.
//!
//! The signal is `((n * 7919 + c * 104729 + 12345) mod 2^24) - 2^23`, a 24-bit number for frame `n` of channel `c`:
//! every sample differs from its neighbours, so that a wrong offset can't pass.

use std::path::{Path, PathBuf};

/// How samples are stored.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Kind {
    U8,
    S16,
    S24,
    S32,
    F32,
    F64,
}

impl Kind {
    pub(crate) const ALL: [Self; 6] =
        [Self::U8, Self::S16, Self::S24, Self::S32, Self::F32, Self::F64];

    pub(crate) fn bits(self) -> u16 {
        match self {
            Self::U8 => 8,
            Self::S16 => 16,
            Self::S24 => 24,
            Self::S32 | Self::F32 => 32,
            Self::F64 => 64,
        }
    }

    fn tag(self) -> u16 {
        if matches!(self, Self::F32 | Self::F64) { 3 } else { 1 }
    }

    fn push(self, value: i32, to: &mut Vec<u8>) {
        let unit = value as f32 / 8_388_608.0;
        match self {
            Self::U8 => to.push(((value >> 16) + 128).to_le_bytes()[0]),
            Self::S16 => to.extend_from_slice(&(value >> 8).to_le_bytes()[..2]),
            Self::S24 => to.extend_from_slice(&value.to_le_bytes()[..3]),
            Self::S32 => to.extend_from_slice(&(value << 8).to_le_bytes()),
            Self::F32 => to.extend_from_slice(&unit.to_le_bytes()),
            Self::F64 => to.extend_from_slice(&f64::from(unit).to_le_bytes()),
        }
    }

    /// What a reader must give for frame `n` of channel `c`, by the definition of the format.
    pub(crate) fn truth(self, n: usize, c: usize) -> f32 {
        let value = value(n, c);
        match self {
            Self::U8 => (value >> 16) as f32 / 128.0,
            Self::S16 => (value >> 8) as f32 / 32_768.0,
            _ => value as f32 / 8_388_608.0,
        }
    }
}

/// The 24-bit signal.
pub(crate) fn value(n: usize, c: usize) -> i32 {
    let phase = (n as u64 * 7_919 + c as u64 * 104_729 + 12_345) % (1 << 24);
    i32::try_from(phase).expect("24 bits") - (1 << 23)
}

/// The samples of `n_frames` frames.
pub(crate) fn samples(kind: Kind, n_frames: usize, n_channels: usize) -> Vec<u8> {
    let mut bytes = Vec::new();
    for n in 0..n_frames {
        for c in 0..n_channels {
            kind.push(value(n, c), &mut bytes);
        }
    }
    bytes
}

/// The body of a plain `fmt ` chunk, 16 bytes.
pub(crate) fn plain_format(kind: Kind, n_channels: u16, rate_hz: u32) -> Vec<u8> {
    tagged_format(kind.tag(), kind.bits(), n_channels, rate_hz)
}

/// The same with any format tag.
pub(crate) fn tagged_format(tag: u16, bits: u16, n_channels: u16, rate_hz: u32) -> Vec<u8> {
    let frame_bytes = n_channels * bits / 8;
    let mut body = Vec::new();
    body.extend_from_slice(&tag.to_le_bytes());
    body.extend_from_slice(&n_channels.to_le_bytes());
    body.extend_from_slice(&rate_hz.to_le_bytes());
    body.extend_from_slice(&(rate_hz * u32::from(frame_bytes)).to_le_bytes());
    body.extend_from_slice(&frame_bytes.to_le_bytes());
    body.extend_from_slice(&bits.to_le_bytes());
    body
}

/// The body of an extensible `fmt ` chunk, 40 bytes.
pub(crate) fn extensible_format(
    kind: Kind,
    n_channels: u16,
    rate_hz: u32,
    mask: u32,
    valid_bits: u16,
) -> Vec<u8> {
    let mut body = tagged_format(0xfffe, kind.bits(), n_channels, rate_hz);
    body.extend_from_slice(&22_u16.to_le_bytes());
    body.extend_from_slice(&valid_bits.to_le_bytes());
    body.extend_from_slice(&mask.to_le_bytes());
    body.extend_from_slice(&kind.tag().to_le_bytes());
    body.extend_from_slice(&[0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xaa, 0, 0x38, 0x9b, 0x71]);
    body
}

/// A chunk with its pad byte.
pub(crate) fn chunk(id: &[u8; 4], body: &[u8]) -> Vec<u8> {
    let mut bytes = sized_chunk(id, length(body), body);
    if body.len() % 2 == 1 {
        bytes.push(0);
    }
    bytes
}

/// A chunk whose size field says `size`, without pad byte.
pub(crate) fn sized_chunk(id: &[u8; 4], size: u32, body: &[u8]) -> Vec<u8> {
    [id.as_slice(), &size.to_le_bytes(), body].concat()
}

/// A whole RIFF file with a right size.
pub(crate) fn riff(chunks: &[Vec<u8>]) -> Vec<u8> {
    let size = length(&chunks.concat()) + 4;
    sized_riff(b"RIFF", size, chunks)
}

/// A whole file of the RIFF family whose size field says `size`.
pub(crate) fn sized_riff(id: &[u8; 4], size: u32, chunks: &[Vec<u8>]) -> Vec<u8> {
    [id.as_slice(), &size.to_le_bytes(), b"WAVE", &chunks.concat()].concat()
}

/// The `ds64` chunk of EBU Tech 3306.
pub(crate) fn ds64(riff_bytes: u64, data_bytes: u64, n_frames: u64) -> Vec<u8> {
    let sizes = [riff_bytes, data_bytes, n_frames].map(u64::to_le_bytes);
    chunk(b"ds64", &[sizes.as_flattened(), &[0; 4]].concat())
}

/// A Wave64 file: names of 16 bytes, 64-bit sizes that count the 24 bytes of the head, padding to 8 bytes.
pub(crate) fn wave64(format: &[u8], data: &[u8], data_size: u64) -> Vec<u8> {
    let tail = [0xf3, 0xac, 0xd3, 0x11, 0x8c, 0xd1, 0x00, 0xc0, 0x4f, 0x8e, 0xdb, 0x8a];
    let part = |id: &[u8; 4], size: u64, body: &[u8]| {
        let mut bytes = [id.as_slice(), &tail, &size.to_le_bytes(), body].concat();
        bytes.resize(bytes.len().next_multiple_of(8), 0);
        bytes
    };
    let parts =
        [part(b"fmt ", 24 + format.len() as u64, format), part(b"data", data_size, data)].concat();
    let head = [0x2e, 0x91, 0xcf, 0x11, 0xa5, 0xd6, 0x28, 0xdb, 0x04, 0xc1, 0x00, 0x00];
    let size = (40 + parts.len() as u64).to_le_bytes();
    [b"riff".as_slice(), &head, &size, b"wave", &tail, &parts].concat()
}

/// A plain mono or poly file.
pub(crate) fn plain(kind: Kind, n_frames: usize, n_channels: u16, rate_hz: u32) -> Vec<u8> {
    riff(&[
        chunk(b"fmt ", &plain_format(kind, n_channels, rate_hz)),
        chunk(b"data", &samples(kind, n_frames, usize::from(n_channels))),
    ])
}

/// The length of a body as a 32-bit size.
pub(crate) fn length(body: &[u8]) -> u32 {
    u32::try_from(body.len()).expect("test files are small")
}

/// Writes a file into a folder.
pub(crate) fn put(folder: &Path, name: &str, bytes: &[u8]) -> PathBuf {
    let path = folder.join(name);
    std::fs::write(&path, bytes).expect("the scratch folder can be written");
    path
}
