//! A folder of recordings as a session: takes, channels, roles.
//!
//! Takes a folder and the note in it, gives a [`Session`]. Reads headers only, so it takes a moment whatever the
//! length. Never drops a file silently: what can't be used is a warning.

use std::path::{Path, PathBuf};

use super::channels::{SessionChannel, channels};
use super::clock::{align, clock_misfit, session_rate_hz};
use super::note::{SessionNote, read};
use super::scan::scan;
use super::split::{Joined, Recording, join};
use crate::audio::{FileFacts, TrustHeader, probe};
use crate::error::{Error, system};

/// Most channels of a session: more than twice the inputs of the largest desks.
const MAX_CHANNELS: usize = 512;

/// Files that an error names at most: more hide what to do.
const MOST_TOLD: usize = 5;

/// Fewest channels of a file that holds copies of mono files.
const MIN_POLY: usize = 3;

/// A folder of recordings.
#[derive(Clone, Debug)]
pub struct Session {
    /// Name: from `session.toml`, else the folder's.
    pub name: String,
    /// Date: from `session.toml`, else the first one in the files.
    pub date: Option<String>,
    /// The folder.
    pub folder: PathBuf,
    /// What `session.toml` states; empty without one.
    pub note: SessionNote,
    /// Recordings: a file each, or several that follow each other.
    pub takes: Vec<Take>,
    /// Channels, in the order of the desk.
    pub channels: Vec<SessionChannel>,
    /// Sample rate of the session, in Hz: that of most channels.
    pub rate_hz: u32,
    /// Whether the files have more than one sample rate.
    pub mixed_rates: bool,
    /// Length of a take over that of most others, if the quotient is that of 48 and 44.1 kHz: a wrong clock.
    pub clock_ratio: Option<f64>,
    /// What was left out, joined with a doubt, or does not fit; a sentence each, without a path of the machine.
    pub warnings: Vec<String>,
}

/// A recording: a file, or several that follow each other without a gap.
#[derive(Clone, Debug)]
pub struct Take {
    /// The files, in their order.
    pub parts: Vec<PathBuf>,
    /// First file, relative to the session folder, with `/`.
    pub label: String,
    /// Kind of file.
    pub container: String,
    /// Channels.
    pub n_channels: usize,
    /// Sample rate, in Hz.
    pub rate_hz: u32,
    /// Bits of a sample; 0 for lossy codecs.
    pub bits: u32,
    /// Whether samples are floats.
    pub is_float: bool,
    /// Whether the codec threw sound away.
    pub is_lossy: bool,
    /// Frames in all parts; `None` where only reading tells.
    pub n_frames: Option<u64>,
    /// Begin in the session, in seconds.
    pub start_s: f64,
    /// Start of the first part, in samples since midnight, as its header says.
    pub stamp_samples: Option<u64>,
    /// Names that the recorder gave to the channels.
    pub track_names: Vec<Option<String>>,
    /// Day of the recording.
    pub date: Option<String>,
}

impl Take {
    /// Length, in seconds.
    pub fn duration_s(&self) -> Option<f64> {
        self.n_frames.map(|n_frames| n_frames as f64 / f64::from(self.rate_hz))
    }

    fn new(joined: &Joined) -> Self {
        let first = &joined.parts[0];
        let facts = &first.facts;
        Self {
            parts: joined.parts.iter().map(|part| part.path.clone()).collect(),
            label: first.label.clone(),
            container: facts.container.clone(),
            n_channels: facts.n_channels,
            rate_hz: facts.rate_hz,
            bits: facts.bits,
            is_float: facts.is_float,
            is_lossy: facts.is_lossy,
            n_frames: joined.parts.iter().map(|part| part.facts.n_frames).sum(),
            start_s: joined.start_frames as f64 / f64::from(facts.rate_hz),
            stamp_samples: facts.start_samples,
            track_names: facts.track_names.clone(),
            date: facts.date.clone(),
        }
    }
}

impl Session {
    /// Looks at a folder: its note, its files' headers.
    ///
    /// # Errors
    ///
    /// If the folder can't be listed, `session.toml` can't be understood, or no file holds sound that can be read.
    pub fn open(folder: &Path, trust: TrustHeader) -> Result<Self, Error> {
        let found = scan(folder).map_err(|error| {
            Error::new(
                "cannot look into",
                folder,
                system(&error),
                "name a folder that holds the recordings of one session",
            )
        })?;
        let note = read(folder)?.unwrap_or_default();
        let mut warnings: Vec<String> = found
            .unread
            .iter()
            .map(|(path, cause)| format!("`{}` was not looked into: {cause}", label(folder, path)))
            .collect();
        let recordings = probe_all(folder, &found.paths, &note, trust, &mut warnings);
        if recordings.is_empty() {
            return Err(nothing_left(folder, found.paths.len(), &warnings));
        }
        let mut takes = Vec::new();
        for joined in join(recordings) {
            warnings.extend_from_slice(&joined.warnings);
            takes.push(Take::new(&joined));
        }
        leave_out_copies(&mut takes, &note, &mut warnings);
        let n_channels: usize = takes.iter().map(|take| take.n_channels).sum();
        if n_channels > MAX_CHANNELS {
            return Err(Error::new(
                "cannot review",
                folder,
                format!(
                    "its recordings hold {n_channels} channels, {MAX_CHANNELS} at most can be of one session"
                ),
                "name the folder of one session",
            ));
        }
        Ok(Self::assemble(folder, note, takes, warnings))
    }

    /// Length, in seconds: to the end of the last channel whose length is known.
    pub fn duration_s(&self) -> f64 {
        let ends_s = self.takes.iter().filter_map(|take| Some(take.start_s + take.duration_s()?));
        ends_s.fold(0.0, f64::max)
    }

    /// Whether the tap of every channel is stated and not only inferred.
    pub fn taps_stated(&self) -> bool {
        self.note.tap.is_some() || self.channels.iter().all(|channel| channel.note.tap.is_some())
    }

    /// Longest difference between the lengths of two takes, in seconds.
    pub fn length_spread_s(&self) -> f64 {
        let lengths_s = || self.takes.iter().filter_map(Take::duration_s);
        match (lengths_s().reduce(f64::max), lengths_s().reduce(f64::min)) {
            (Some(longest_s), Some(shortest_s)) => longest_s - shortest_s,
            _ => 0.0,
        }
    }

    fn assemble(
        folder: &Path,
        note: SessionNote,
        mut takes: Vec<Take>,
        mut warnings: Vec<String>,
    ) -> Self {
        let own_clock: Vec<bool> = takes.iter().map(|take| has_own_clock(take, &note)).collect();
        warnings.extend(align(&mut takes, &own_clock));
        let misfit = clock_misfit(&takes);
        warnings.extend(misfit.map(|(idx, ratio)| {
            format!(
                "`{}` lasts {ratio:.3} times as long as the others, the ratio of 48 and 44.1 kHz: its recorder ran at another clock",
                takes[idx].label
            )
        }));
        let rate_hz = session_rate_hz(&takes);
        let mixed_rates = takes.iter().any(|take| take.rate_hz != rate_hz);
        let channels = channels(&takes, &note, &mut warnings);
        Self {
            name: note.name.clone().unwrap_or_else(|| folder_name(folder)),
            date: note.date.clone().or_else(|| takes.iter().find_map(|take| take.date.clone())),
            folder: folder.to_owned(),
            note,
            takes,
            channels,
            rate_hz,
            mixed_rates,
            clock_ratio: misfit.map(|(_, ratio)| ratio),
            warnings,
        }
    }
}

/// Every file that can be read; the others become warnings.
fn probe_all(
    folder: &Path,
    paths: &[PathBuf],
    note: &SessionNote,
    trust: TrustHeader,
    warnings: &mut Vec<String>,
) -> Vec<Recording> {
    let mut recordings = Vec::new();
    for path in paths {
        let label = label(folder, path);
        if is_calibration(&label, note) {
            continue;
        }
        match probe(path, trust) {
            Ok(facts) if holds_nothing(&facts) => {
                warnings.push(format!("`{label}` is left out: it holds no sound"));
            }
            Ok(facts) => {
                warnings.extend(facts.repairs.iter().map(|repair| format!("`{label}`: {repair}")));
                let n_bytes = std::fs::metadata(path).map_or(0, |meta| meta.len());
                recordings.push(Recording { path: path.clone(), label, n_bytes, facts });
            }
            Err(error) => {
                warnings.push(format!("`{label}` is left out: {} ({})", error.cause, error.hint));
            }
        }
    }
    recordings
}

fn holds_nothing(facts: &FileFacts) -> bool {
    facts.n_channels == 0 || facts.n_frames == Some(0)
}

/// A recorded calibrator is no channel.
fn is_calibration(label: &str, note: &SessionNote) -> bool {
    note.channels.iter().any(|channel| {
        let tone_file = channel.calibration.as_ref().and_then(|tone| tone.file.as_deref());
        tone_file == Some(label) && channel.file.as_deref() != Some(label)
    })
}

fn has_own_clock(take: &Take, note: &SessionNote) -> bool {
    note.channels.iter().any(|channel| {
        channel.own_clock == Some(true) && channel.file.as_ref() == Some(&take.label)
    })
}

/// Leaves a file of many channels out if as many mono files of exactly its length stand beside it.
fn leave_out_copies(takes: &mut Vec<Take>, note: &SessionNote, warnings: &mut Vec<String>) {
    let copies = |poly: &Take| {
        let alike = takes.iter().filter(|mono| {
            mono.n_channels == 1
                && mono.rate_hz == poly.rate_hz
                && match (mono.n_frames, poly.n_frames) {
                    (Some(mono), Some(poly)) => mono == poly,
                    _ => false,
                }
        });
        alike.count()
    };
    let is_named = |take: &Take| {
        note.channels.iter().any(|channel| channel.file.as_ref() == Some(&take.label))
    };
    let left_out: Vec<String> = takes
        .iter()
        .filter(|poly| poly.n_channels >= MIN_POLY && !is_named(poly))
        .filter(|poly| copies(poly) == poly.n_channels)
        .map(|poly| poly.label.clone())
        .collect();
    for label in &left_out {
        warnings.push(format!(
            "`{label}` is left out: as many mono files of the same length stand beside it, which seem to be the same channels. Name it in session.toml to use it"
        ));
    }
    takes.retain(|take| !left_out.contains(&take.label));
}

fn nothing_left(folder: &Path, n_files: usize, warnings: &[String]) -> Error {
    let cause = match n_files {
        0 => "no sound file was found in it".to_owned(),
        _ => {
            let told: Vec<&str> = warnings.iter().take(MOST_TOLD).map(String::as_str).collect();
            format!("none of its {n_files} sound files can be used; {}", told.join("; "))
        }
    };
    Error::new(
        "cannot review",
        folder,
        cause,
        "name the folder that holds the recordings, at most two levels above them",
    )
}

/// A path relative to the session folder, with `/` on every system.
fn label(folder: &Path, path: &Path) -> String {
    let relative = path.strip_prefix(folder).unwrap_or(path);
    let parts: Vec<_> =
        relative.components().map(|part| part.as_os_str().to_string_lossy()).collect();
    parts.join("/")
}

fn folder_name(folder: &Path) -> String {
    // `.` and `..` have no name until they are resolved.
    let real = folder.canonicalize().unwrap_or_else(|_| folder.to_owned());
    real.file_name()
        .map_or_else(|| "session".to_owned(), |name| name.to_string_lossy().into_owned())
}
