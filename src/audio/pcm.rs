//! Plain samples from a WAV file, without a decoder between.
//!
//! Takes an open file and the place of its sound, gives planes of `f32`. Never allocates while it reads, but for
//! the planes it appends to, and once in each thread.

use std::cell::RefCell;
use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};

use crate::dsp::lanes::{BYTES_OF_FOUR, Isa, from_packed_24};

/// Bytes read at a time: stays in the second-level cache until it is unpacked.
const READ_BYTES: usize = 128 * 1024;

thread_local! {
    /// What was read and is not unpacked yet. One for each thread that reads, not for each file: what is read into the same place again
    /// finds it in the cache.
    static BUFFER: RefCell<Vec<u8>> = const { RefCell::new(Vec::new()) };
}

/// Bytes unpacked at a time where channels alternate: stays in the first-level cache while the channels take turns.
const TILE_BYTES: usize = 16 * 1024;

/// How a plain sample is stored, lowest byte first.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Sample {
    /// Eight bits, 128 is silence.
    U8,
    /// 16 bits.
    I16,
    /// 24 bits.
    I24,
    /// 32 bits.
    I32,
    /// 32-bit float.
    F32,
    /// 64-bit float.
    F64,
}

impl Sample {
    /// Bytes of a sample.
    pub(super) fn bytes(self) -> usize {
        match self {
            Self::U8 => 1,
            Self::I16 => 2,
            Self::I24 => 3,
            Self::I32 | Self::F32 => 4,
            Self::F64 => 8,
        }
    }

    /// Whether the samples are floats.
    pub(super) fn is_float(self) -> bool {
        matches!(self, Self::F32 | Self::F64)
    }
}

/// The sound of a file with plain samples.
#[derive(Debug)]
pub(super) struct PcmFile {
    file: File,
    sample: Sample,
    n_channels: usize,
    data_start: u64,
    n_frames: u64,
    position: u64,
}

impl PcmFile {
    /// Stands at the first frame.
    pub(super) fn new(
        file: File,
        sample: Sample,
        n_channels: usize,
        data_start: u64,
        n_frames: u64,
    ) -> io::Result<Self> {
        let mut pcm = Self { file, sample, n_channels, data_start, n_frames, position: 0 };
        pcm.seek(0)?;
        Ok(pcm)
    }

    /// Moves to a frame, at most to the end.
    pub(super) fn seek(&mut self, frame: u64) -> io::Result<()> {
        self.position = frame.min(self.n_frames);
        let frame_bytes = (self.n_channels * self.sample.bytes()) as u64;
        self.file.seek(SeekFrom::Start(self.data_start + self.position * frame_bytes))?;
        Ok(())
    }

    /// Frames before the end.
    pub(super) fn n_left(&self) -> u64 {
        self.n_frames - self.position
    }

    /// Appends up to `n_frames` frames; fewer come at the end only, or where the file ends before its time.
    pub(super) fn read(&mut self, n_frames: usize, planes: &mut [Vec<f32>]) -> io::Result<usize> {
        BUFFER.with_borrow_mut(|buffer| self.read_by(buffer, n_frames, planes))
    }

    fn read_by(
        &mut self,
        buffer: &mut Vec<u8>,
        n_frames: usize,
        planes: &mut [Vec<f32>],
    ) -> io::Result<usize> {
        let frame_bytes = self.n_channels * self.sample.bytes();
        let n_at_once = (READ_BYTES / frame_bytes).max(1);
        let n_needed = buffer.len().max(n_at_once * frame_bytes);
        buffer.resize(n_needed, 0);
        let mut n_done = 0;
        while n_done < n_frames && self.n_left() > 0 {
            let n_left = usize::try_from(self.n_left()).unwrap_or(usize::MAX);
            let n_want = (n_frames - n_done).min(n_left).min(n_at_once);
            let n_bytes = fill(&mut self.file, &mut buffer[..n_want * frame_bytes])?;
            let n_got = n_bytes / frame_bytes;
            unpack(self.sample, &buffer[..n_got * frame_bytes], planes);
            self.position += n_got as u64;
            n_done += n_got;
            if n_got < n_want {
                break;
            }
        }
        Ok(n_done)
    }
}

/// Reads until the buffer is full or the file ends.
fn fill(file: &mut File, buffer: &mut [u8]) -> io::Result<usize> {
    let mut n_done = 0;
    while n_done < buffer.len() {
        match file.read(&mut buffer[n_done..]) {
            Ok(0) => break,
            Ok(n) => n_done += n,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
    Ok(n_done)
}

const SCALE_32: f32 = 1.0 / 2_147_483_648.0;

/// A sample of 24 bits in the upper three bytes of 32: there its sign is right, and the float holds all of it.
fn one([low, middle, high]: [u8; 3]) -> f32 {
    i32::from_le_bytes([0, low, middle, high]) as f32 * SCALE_32
}

/// Appends whole frames to the planes; full scale is 1.
fn unpack(sample: Sample, bytes: &[u8], planes: &mut [Vec<f32>]) {
    const SCALE_8: f32 = 1.0 / 128.0;
    const SCALE_16: f32 = 1.0 / 32_768.0;
    match sample {
        Sample::U8 => spread(bytes, planes, |[b]| (f32::from(b) - 128.0) * SCALE_8),
        Sample::I16 => spread(bytes, planes, |b| f32::from(i16::from_le_bytes(b)) * SCALE_16),
        Sample::I24 => match planes {
            [plane] => {
                let (fours, rest) = bytes.as_chunks::<BYTES_OF_FOUR>();
                let n_before = plane.len();
                plane.resize(n_before + 4 * fours.len(), 0.0);
                from_packed_24(Isa::best(), fours, plane[n_before..].as_chunks_mut::<4>().0);
                plane.extend(rest.as_chunks::<3>().0.iter().map(|&bytes| one(bytes)));
            }
            _ => spread(bytes, planes, one),
        },
        Sample::I32 => spread(bytes, planes, |b| i32::from_le_bytes(b) as f32 * SCALE_32),
        Sample::F32 => spread(bytes, planes, f32::from_le_bytes),
        Sample::F64 => spread(bytes, planes, narrow),
    }
}

#[expect(clippy::cast_possible_truncation, reason = "samples are f32 by design")]
fn narrow(bytes: [u8; 8]) -> f32 {
    f64::from_le_bytes(bytes) as f32
}

fn spread<const N: usize>(
    bytes: &[u8],
    planes: &mut [Vec<f32>],
    convert: impl Fn([u8; N]) -> f32 + Copy,
) {
    let samples = bytes.as_chunks::<N>().0;
    if let [plane] = planes {
        plane.extend(samples.iter().map(|&sample| convert(sample)));
        return;
    }
    let n_channels = planes.len();
    let tile = (TILE_BYTES / (N * n_channels)).max(1) * n_channels;
    for tile in samples.chunks(tile) {
        for (channel_idx, plane) in planes.iter_mut().enumerate() {
            plane.extend(tile.chunks_exact(n_channels).map(|frame| convert(frame[channel_idx])));
        }
    }
}
