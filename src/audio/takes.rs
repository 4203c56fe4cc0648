//! Consecutive files of one recording as one stream.
//!
//! Takes the files that a recorder made when it split a long take, gives their samples without a gap. Never holds
//! more than one file open.

use std::path::PathBuf;

use super::probe::{FileFacts, TrustHeader, probe};
use super::stream::Stream;
use crate::error::Error;

/// The files of one recording, one after the other.
pub struct Takes {
    paths: Vec<PathBuf>,
    facts: Vec<FileFacts>,
    trust: TrustHeader,
    part_idx: usize,
    stream: Option<Stream>,
    n_bad_samples: u64,
}

impl Takes {
    /// Looks at all files, in the given order.
    ///
    /// # Errors
    ///
    /// If a file can't be read, or differs from the first in channels or sample rate.
    ///
    /// # Panics
    ///
    /// If there is no file.
    pub fn new(paths: Vec<PathBuf>, trust: TrustHeader) -> Result<Self, Error> {
        assert!(!paths.is_empty(), "a recording has at least one file");
        let facts =
            paths.iter().map(|path| probe(path, trust)).collect::<Result<Vec<_>, Error>>()?;
        let first = &facts[0];
        let odd = facts
            .iter()
            .position(|part| (part.n_channels, part.rate_hz) != (first.n_channels, first.rate_hz));
        if let Some(odd) = odd {
            let part = &facts[odd];
            return Err(Error::new(
                "cannot join",
                &paths[odd],
                format!(
                    "it has {} channels at {} Hz, the file before it has {} at {} Hz",
                    part.n_channels, part.rate_hz, first.n_channels, first.rate_hz
                ),
                "give it another name if it is no continuation, or move it out of the folder",
            ));
        }
        Ok(Self { paths, facts, trust, part_idx: 0, stream: None, n_bad_samples: 0 })
    }

    /// What each file holds, in order.
    pub fn facts(&self) -> &[FileFacts] {
        &self.facts
    }

    /// Channels.
    pub fn n_channels(&self) -> usize {
        self.facts[0].n_channels
    }

    /// Sample rate, in Hz.
    pub fn rate_hz(&self) -> u32 {
        self.facts[0].rate_hz
    }

    /// Frames in all files together, if each says its own.
    pub fn n_frames(&self) -> Option<u64> {
        self.facts.iter().map(|part| part.n_frames).sum()
    }

    /// What was put right or found missing so far, a sentence each, with the name of the file where there are
    /// several.
    pub fn repairs(&self) -> Vec<String> {
        let parts = self.paths.iter().zip(&self.facts);
        let sentences = parts.flat_map(|(path, part)| {
            part.repairs.iter().map(move |repair| match path.file_name() {
                Some(name) if self.paths.len() > 1 => format!("{}: {repair}", name.display()),
                _ => repair.clone(),
            })
        });
        sentences.collect()
    }

    /// Samples so far that were no numbers (not finite, or beyond any sound) and became 0.
    pub fn n_bad_samples(&self) -> u64 {
        self.n_bad_samples + self.stream.as_ref().map_or(0, Stream::n_bad_samples)
    }

    /// Appends up to `n_frames` frames to the planes, one for each channel, and tells how many.
    ///
    /// Fewer come only at the end of the last file, and none after it.
    ///
    /// # Errors
    ///
    /// If a file can't be opened any more or the system can't read on.
    ///
    /// # Panics
    ///
    /// If there is not one plane for each channel.
    pub fn read(&mut self, n_frames: usize, planes: &mut [Vec<f32>]) -> Result<usize, Error> {
        let mut n_done = 0;
        while n_done < n_frames && self.part_idx < self.paths.len() {
            let stream = match &mut self.stream {
                Some(stream) => stream,
                none => none.insert(Stream::open(&self.paths[self.part_idx], self.trust)?),
            };
            let n_got = stream.read(n_frames - n_done, planes)?;
            if n_got == 0 {
                self.leave();
                self.part_idx += 1;
            }
            n_done += n_got;
        }
        Ok(n_done)
    }

    /// Moves to a frame, counted from the first of the first file; beyond the end nothing more comes.
    ///
    /// # Errors
    ///
    /// If a file can't be opened any more, or the system can't read there.
    pub fn seek(&mut self, frame: u64) -> Result<(), Error> {
        self.leave();
        self.part_idx = 0;
        let mut frame = frame;
        for part in &self.facts {
            let Some(n_frames) = part.n_frames.filter(|&n_frames| frame >= n_frames) else { break };
            frame -= n_frames;
            self.part_idx += 1;
        }
        if self.part_idx < self.paths.len() {
            let mut stream = Stream::open(&self.paths[self.part_idx], self.trust)?;
            stream.seek(frame)?;
            self.stream = Some(stream);
        }
        Ok(())
    }

    /// Closes the file at hand and keeps what was found in it.
    fn leave(&mut self) {
        if let Some(stream) = self.stream.take() {
            self.n_bad_samples += stream.n_bad_samples();
            self.facts[self.part_idx].repairs = stream.into_facts().repairs;
        }
    }
}
