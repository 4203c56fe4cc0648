//! The samples of one sound file, block by block.
//!
//! Takes a path, gives planes of `f32` with full scale at 1. A sample that is no number, or beyond any, becomes 0 and is counted.
//! Never writes to the file, never maps it into memory, never holds more than a block.

use std::path::{Path, PathBuf};

use symphonia::core::errors::Error as CodecError;

use super::broadcast;
use super::chunks::{self, Family, Fault, Layout};
use super::coded::{self, CodedFile, Coding};
use super::format::Codec;
use super::open::{self, CANNOT_READ, Opened};
use super::pcm::{PcmFile, Sample};
use super::probe::{FileFacts, TrustHeader};
use super::repair::spoken;
use super::wave::WaveReader;
use crate::error::Error;

/// Larger floats are damage and no sound: even 32-bit whole numbers that a converter forgot to scale end at 2^31.
const MAX_SAMPLE: f32 = 2_147_483_648.0;

/// Where samples come from.
enum Source {
    Pcm(PcmFile),
    Coded(Box<CodedFile>),
}

/// The samples of one sound file.
pub struct Stream {
    path: PathBuf,
    facts: FileFacts,
    /// Repairs of the header; those found while reading follow.
    n_header_repairs: usize,
    source: Source,
    n_bad_samples: u64,
}

impl Stream {
    /// Opens a file and stands at its first frame.
    ///
    /// # Errors
    ///
    /// If the file can't be opened or holds no sound that can be read; the cause and what to do are named.
    pub fn open(path: &Path, trust: TrustHeader) -> Result<Self, Error> {
        let opened = open::open(path)?;
        if Family::of(&opened.head).is_some() {
            return Self::open_wave(path, opened, trust);
        }
        let coded = coded::open(opened.file, path)
            .map_err(|error| codec_error(path, &opened.head, &error))?;
        let (source, coding) = from_coded(coded);
        Ok(Self::new(path, source, coding))
    }

    /// Opens a file of the WAV family: by our own header reader, which repairs; only rare codecs are left to the
    /// decoding library's reader.
    fn open_wave(path: &Path, opened: Opened, trust: TrustHeader) -> Result<Self, Error> {
        let Opened { mut file, n_bytes, head } = opened;
        let io = |error| open::io_error(path, &error);
        let layout = chunks::layout(&mut file, n_bytes, trust)
            .map_err(|fault| header_error(path, fault, trust))?;
        let notes = broadcast::notes(&mut file, n_bytes, &layout).map_err(io)?;
        let (source, coding) = match layout.format.codec {
            Codec::Pcm(sample) => {
                let n_channels = layout.format.n_channels;
                let (start, n_frames) = (layout.data_start, layout.n_frames);
                let pcm = PcmFile::new(file, sample, n_channels, start, n_frames).map_err(io)?;
                (Source::Pcm(pcm), plain(&layout, sample))
            }
            Codec::ALaw | Codec::MuLaw => {
                let coded = WaveReader::new(coded::source(file), &layout)
                    .and_then(|reader| CodedFile::new(Box::new(reader)));
                let (source, mut coding) =
                    from_coded(coded.map_err(|error| codec_error(path, &head, &error))?);
                layout.family.name().clone_into(&mut coding.container);
                (source, coding)
            }
            Codec::Other(tag) => {
                from_coded(coded::open(file, path).map_err(|_| tag_error(path, tag))?)
            }
        };
        let mut stream = Self::new(path, source, coding);
        stream.facts.start_samples = notes.start_samples;
        stream.facts.date = notes.date;
        stream.facts.time = notes.time;
        stream.facts.description = notes.description;
        if notes.track_names.len() == stream.facts.n_channels {
            stream.facts.track_names = notes.track_names;
        }
        stream.n_header_repairs = layout.repairs.len();
        stream.facts.repairs = layout.repairs;
        Ok(stream)
    }

    fn new(path: &Path, source: Source, coding: Coding) -> Self {
        let facts = FileFacts {
            container: coding.container,
            n_channels: coding.n_channels,
            rate_hz: coding.rate_hz,
            bits: coding.bits,
            is_float: coding.is_float,
            is_lossy: coding.is_lossy,
            n_frames: coding.n_frames,
            start_samples: None,
            date: None,
            time: None,
            description: None,
            track_names: vec![None; coding.n_channels],
            repairs: Vec::new(),
        };
        Self { path: path.to_owned(), facts, n_header_repairs: 0, source, n_bad_samples: 0 }
    }

    /// What the file holds. The repairs grow while it is read.
    pub fn facts(&self) -> &FileFacts {
        &self.facts
    }

    /// What was put right or found missing so far, a sentence each.
    pub fn repairs(&self) -> &[String] {
        &self.facts.repairs
    }

    /// Samples so far that were no numbers (not finite, or beyond any sound) and became 0.
    pub fn n_bad_samples(&self) -> u64 {
        self.n_bad_samples
    }

    /// The facts alone; closes the file.
    pub(super) fn into_facts(self) -> FileFacts {
        self.facts
    }

    /// Appends up to `n_frames` frames to the planes, one for each channel, and tells how many.
    ///
    /// Fewer come only at the end of the sound, and none after it.
    ///
    /// # Errors
    ///
    /// If the system can't read on. Sound that can't be decoded is no error: it is replaced by silence or left out,
    /// and told in [`Stream::repairs`].
    ///
    /// # Panics
    ///
    /// If there is not one plane for each channel.
    pub fn read(&mut self, n_frames: usize, planes: &mut [Vec<f32>]) -> Result<usize, Error> {
        assert_eq!(planes.len(), self.facts.n_channels, "a plane for each channel is needed");
        let n_got = match &mut self.source {
            Source::Pcm(pcm) => {
                let n_got = pcm
                    .read(n_frames, planes)
                    .map_err(|error| open::io_error(&self.path, &error))?;
                if n_got < n_frames && pcm.n_left() > 0 {
                    let rate_hz = f64::from(self.facts.rate_hz);
                    let lost = spoken(pcm.n_left() as f64 / rate_hz);
                    self.note(vec![format!(
                        "The file became shorter while it was read: {lost} lost."
                    )]);
                }
                n_got
            }
            Source::Coded(coded) => {
                let n_got =
                    coded.read(n_frames, planes).map_err(|error| read_error(&self.path, &error))?;
                let complaints = coded.complaints();
                self.note(complaints);
                n_got
            }
        };
        if self.facts.is_float || self.facts.is_lossy {
            for plane in planes {
                let fresh = plane.len() - n_got;
                self.n_bad_samples += silence_bad(&mut plane[fresh..]);
            }
        }
        Ok(n_got)
    }

    /// Moves to a frame, counted from the first of the file; beyond the end nothing more comes.
    ///
    /// # Errors
    ///
    /// If the system can't read there.
    pub fn seek(&mut self, frame: u64) -> Result<(), Error> {
        match &mut self.source {
            Source::Pcm(pcm) => pcm.seek(frame).map_err(|error| open::io_error(&self.path, &error)),
            Source::Coded(coded) if coded.coding().builds_on => self.run_to(frame),
            Source::Coded(coded) => {
                coded.seek(frame).map_err(|error| read_error(&self.path, &error))
            }
        }
    }

    /// Moves to a frame by decoding all that lies before it: where packets build on each other, a jump lands near the place only.
    fn run_to(&mut self, frame: u64) -> Result<(), Error> {
        const STEP_FRAMES: u64 = 1 << 16;
        let mut dropped = vec![Vec::new(); self.facts.n_channels];
        loop {
            let Source::Coded(coded) = &mut self.source else { return Ok(()) };
            if frame < coded.at() {
                self.source = Self::open(&self.path, TrustHeader::No)?.source;
                continue;
            }
            let n_next = (frame - coded.at()).min(STEP_FRAMES) as usize;
            dropped.iter_mut().for_each(Vec::clear);
            let read = coded.read(n_next, &mut dropped);
            if read.map_err(|error| read_error(&self.path, &error))? == 0 {
                return Ok(());
            }
        }
    }

    /// Sets what was found while reading.
    fn note(&mut self, found: Vec<String>) {
        self.facts.repairs.truncate(self.n_header_repairs);
        self.facts.repairs.extend(found);
    }
}

/// Replaces what can't be sound by 0 and counts it.
fn silence_bad(samples: &mut [f32]) -> u64 {
    // Not a number is not within either.
    let is_bad = |sample: &f32| !(-MAX_SAMPLE..=MAX_SAMPLE).contains(sample);
    // Counting alone runs in vector lanes, and most files have none.
    let n_bad = samples.iter().filter(|&sample| is_bad(sample)).count() as u64;
    if n_bad > 0 {
        for sample in samples.iter_mut().filter(|sample| is_bad(sample)) {
            *sample = 0.0;
        }
    }
    n_bad
}

fn plain(layout: &Layout, sample: Sample) -> Coding {
    Coding {
        container: layout.family.name().to_owned(),
        n_channels: layout.format.n_channels,
        rate_hz: layout.format.rate_hz,
        bits: layout.format.bits,
        is_float: sample.is_float(),
        is_lossy: false,
        builds_on: false,
        n_frames: Some(layout.n_frames),
    }
}

fn from_coded(coded: CodedFile) -> (Source, Coding) {
    let coding = coded.coding().clone();
    (Source::Coded(Box::new(coded)), coding)
}

fn header_error(path: &Path, fault: Fault, trust: TrustHeader) -> Error {
    match fault {
        Fault::Io(error) => open::io_error(path, &error),
        Fault::Header(cause) => Error::new(
            CANNOT_READ,
            path,
            cause,
            "copy it again from the recorder, or move it out of the folder",
        ),
        Fault::NoSound => Error::new(
            CANNOT_READ,
            path,
            "there is a header but no sound after it",
            if trust == TrustHeader::Yes {
                "leave out --trust-header, or move it out of the folder"
            } else {
                "copy it again from the recorder, or move it out of the folder"
            },
        ),
    }
}

fn tag_error(path: &Path, tag: u16) -> Error {
    Error::new(
        CANNOT_READ,
        path,
        format!("its sound is coded in a way that can't be decoded here (format tag {tag})"),
        "convert it to WAV with plain samples, or to FLAC",
    )
}

fn codec_error(path: &Path, head: &[u8], error: &CodecError) -> Error {
    match error {
        CodecError::IoError(error) if error.kind() != std::io::ErrorKind::UnexpectedEof => {
            open::io_error(path, error)
        }
        error => open::not_sound(path, head, &error.to_string()),
    }
}

fn read_error(path: &Path, error: &CodecError) -> Error {
    Error::new(
        CANNOT_READ,
        path,
        format!("reading on failed: {error}"),
        "copy it again from the recorder",
    )
}
