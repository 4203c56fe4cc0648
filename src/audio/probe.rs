//! What a sound file holds, from its header.
//!
//! Takes a path, gives [`FileFacts`]. Never reads the sound itself, but for the first packet of files that need a
//! decoder.

use std::path::Path;

use super::stream::Stream;
use crate::error::Error;

/// Whether a size in a header stands against what the file shows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum TrustHeader {
    /// Sizes that the file contradicts are put right, and every repair is told.
    #[default]
    No,
    /// The header is taken at its word; only what lies beyond the end of the file can't be read.
    Yes,
}

/// What a sound file holds.
#[derive(Clone, Debug, PartialEq)]
pub struct FileFacts {
    /// Kind of file: `WAV`, `RF64`, `BW64`, `Wave64`, `AIFF`, `CAF`, `FLAC`, `MP3`, `AAC`, `MP4`, `Ogg`.
    pub container: String,
    /// Channels.
    pub n_channels: usize,
    /// Sample rate, in Hz.
    pub rate_hz: u32,
    /// Bits of a sample; 0 for lossy codecs, which have none.
    pub bits: u32,
    /// Whether samples are stored as floats.
    pub is_float: bool,
    /// Whether the codec threw sound away.
    pub is_lossy: bool,
    /// Frames (samples of each channel); `None` where only reading tells.
    pub n_frames: Option<u64>,
    /// Start of the recording, in samples since midnight (EBU Tech 3285, `TimeReference`).
    pub start_samples: Option<u64>,
    /// Day of the recording, `YYYY-MM-DD`; a lawful date.
    pub date: Option<String>,
    /// Time of the recording, `HH:MM:SS`; a lawful time.
    pub time: Option<String>,
    /// What the recorder wrote about the recording.
    pub description: Option<String>,
    /// Names that the recorder gave to the channels, one for each channel.
    pub track_names: Vec<Option<String>>,
    /// What was put right or found missing, a sentence each.
    pub repairs: Vec<String>,
}

impl FileFacts {
    /// Length, in seconds.
    pub fn duration_s(&self) -> Option<f64> {
        self.n_frames.map(|n_frames| n_frames as f64 / f64::from(self.rate_hz))
    }
}

/// Reads what a file holds.
///
/// # Errors
///
/// If the file can't be opened or holds no sound that can be read; the cause and what to do are named.
pub fn probe(path: &Path, trust: TrustHeader) -> Result<FileFacts, Error> {
    Ok(Stream::open(path, trust)?.into_facts())
}
