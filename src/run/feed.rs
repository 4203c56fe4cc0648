//! One recorder's files as blocks of the session's clock.
//!
//! Takes a sequence of files, gives portions: every plane exactly as long as asked, at the session's rate, silent before
//! the recording begins and after it ends; and the samples as they stand in the file, for what must be measured before
//! any resampling. A file that can't be read on ends there and says so; it never stops the others.

use std::ops::Range;

use crate::audio::{Resampler, Takes};
use crate::error::Error;

/// The next stretch of a recorder's channels.
pub(super) struct Portion {
    /// One plane a channel, at the session's rate, all of the asked length.
    pub(super) planes: Vec<Vec<f32>>,
    /// Frames before the recording ends.
    n_sounding: usize,
    /// The same stretch as it stands in the file.
    native: Native,
}

/// Where the file's own samples are.
enum Native {
    /// In the planes themselves: nothing was resampled.
    Within(Range<usize>),
    /// Apart, at the file's rate.
    Apart(Vec<Vec<f32>>),
}

impl Portion {
    /// The samples as they stand in the file, one slice a channel; empty where the file has none in this stretch.
    pub(super) fn native(&self) -> Vec<&[f32]> {
        match &self.native {
            Native::Within(range) => {
                self.planes.iter().map(|plane| &plane[range.clone()]).collect()
            }
            Native::Apart(planes) => planes.iter().map(Vec::as_slice).collect(),
        }
    }
}

/// One recorder's files, read in step with the session.
pub(super) struct Feed {
    /// What to call it in a warning.
    label: String,
    takes: Takes,
    n_channels: usize,
    is_resampled: bool,
    /// Until the end of the recording.
    resampler: Option<Resampler>,
    /// Session samples before the recording begins.
    starts_at: usize,
    /// Those that were not given yet.
    lead_in: usize,
    /// Resampled samples that were not asked for yet.
    waiting: Vec<Vec<f32>>,
    /// Planes that came back.
    spare: Vec<Vec<f32>>,
    n_read: u64,
    ended: bool,
    failure: Option<Error>,
}

/// Frames read at once for resampling: a multiple of what the resampler works on.
const CHUNK_FRAMES: usize = 8192;

impl Feed {
    /// A feed of `takes`, which begin `lead_in` session samples after the session.
    ///
    /// # Errors
    ///
    /// Why the file's rate can't be brought to `session_hz`.
    pub(super) fn new(
        label: &str,
        takes: Takes,
        session_hz: u32,
        lead_in: usize,
    ) -> Result<Self, String> {
        let (n_channels, rate_hz) = (takes.n_channels(), takes.rate_hz());
        let resampler = if rate_hz == session_hz {
            None
        } else {
            Some(Resampler::new(rate_hz, session_hz, n_channels)?)
        };
        Ok(Self {
            label: label.to_owned(),
            takes,
            n_channels,
            is_resampled: resampler.is_some(),
            resampler,
            starts_at: lead_in,
            lead_in,
            waiting: vec![Vec::new(); n_channels],
            spare: Vec::new(),
            n_read: 0,
            ended: false,
            failure: None,
        })
    }

    /// Whether everything was given.
    pub(super) fn is_over(&self) -> bool {
        self.ended && self.waiting[0].is_empty()
    }

    /// Goes to a sample of the session; silence lies before its begin.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss,
        clippy::cast_possible_wrap,
        reason = "a place in the recording is not negative and far below 2^52 samples"
    )]
    pub(super) fn seek(&mut self, at: i64, session_hz: u32) {
        let ahead = self.starts_at as i64 - at;
        self.lead_in = usize::try_from(ahead).unwrap_or(0);
        let within = usize::try_from(-ahead).unwrap_or(0);
        let rate_hz = self.takes.rate_hz();
        let frame = (within as f64 * f64::from(rate_hz) / f64::from(session_hz)).round() as u64;
        self.waiting.iter_mut().for_each(Vec::clear);
        self.ended = false;
        if self.is_resampled {
            match Resampler::new(rate_hz, session_hz, self.n_channels) {
                Ok(resampler) => self.resampler = Some(resampler),
                Err(_) => self.ended = true,
            }
        }
        if let Err(error) = self.takes.seek(frame) {
            self.ended = true;
            self.failure = Some(error);
        }
    }

    /// Length of what was read, in seconds, at the files' rate.
    #[expect(clippy::cast_precision_loss, reason = "a count of samples is far below 2^52")]
    pub(super) fn length_s(&self, rate_hz: u32) -> f64 {
        self.n_read as f64 / f64::from(rate_hz)
    }

    /// What was repaired, replaced or broken off while reading, one sentence each.
    pub(super) fn warnings(&self) -> Vec<String> {
        let mut warnings = self.takes.repairs();
        let n_bad = self.takes.n_bad_samples();
        if n_bad > 0 {
            let label = &self.label;
            warnings.push(format!(
                "`{label}`: {n_bad} samples are not numbers that sound can have and were read as silence"
            ));
        }
        warnings.extend(self.failure.iter().map(Error::sentence));
        warnings
    }

    /// Takes back a portion that was given, for its room: memory that is asked for anew, block after block, is cleared each time.
    pub(super) fn take_back(&mut self, portion: Portion) {
        self.spare = portion.planes;
    }

    /// Cuts a portion to the frames that hold sound in some recording: what lies beyond the end of all is not measured.
    pub(super) fn trim(portions: &mut [Portion]) {
        let n_frames = portions.iter().map(|portion| portion.n_sounding).max().unwrap_or(0);
        for portion in portions {
            for plane in &mut portion.planes {
                plane.truncate(n_frames);
            }
        }
    }

    /// The next `n_frames` of the session.
    pub(super) fn next(&mut self, n_frames: usize) -> Portion {
        let mut planes = std::mem::take(&mut self.spare);
        planes.resize_with(self.n_channels, || Vec::with_capacity(n_frames));
        planes.iter_mut().for_each(Vec::clear);
        let n_silent = self.lead_in.min(n_frames);
        self.lead_in -= n_silent;
        for plane in &mut planes {
            plane.resize(n_silent, 0.0);
        }
        let native = if self.is_resampled {
            Native::Apart(self.fill_resampled(&mut planes, n_frames))
        } else {
            self.read(n_frames - n_silent, &mut planes);
            Native::Within(n_silent..planes[0].len())
        };
        let n_sounding = planes[0].len();
        for plane in &mut planes {
            plane.resize(n_frames, 0.0);
        }
        Portion { planes, n_sounding, native }
    }

    /// Fills the planes up to `n_frames` at the session's rate; gives what was read at the file's rate.
    fn fill_resampled(&mut self, planes: &mut [Vec<f32>], n_frames: usize) -> Vec<Vec<f32>> {
        let mut native = vec![Vec::new(); self.n_channels];
        while planes[0].len() + self.waiting[0].len() < n_frames && !self.ended {
            let before = native[0].len();
            self.read(CHUNK_FRAMES, &mut native);
            let chunk: Vec<&[f32]> = native.iter().map(|plane| &plane[before..]).collect();
            let Some(mut resampler) = self.resampler.take() else { break };
            resampler.push(&chunk, &mut self.waiting);
            if self.ended {
                resampler.finish(&mut self.waiting);
            } else {
                self.resampler = Some(resampler);
            }
        }
        for (plane, waiting) in planes.iter_mut().zip(&mut self.waiting) {
            let n_taken = (n_frames - plane.len()).min(waiting.len());
            plane.extend(waiting.drain(..n_taken));
        }
        native
    }

    /// Appends up to `n_frames` of the file to the planes; marks the end.
    fn read(&mut self, n_frames: usize, planes: &mut [Vec<f32>]) {
        let mut n_left = n_frames;
        while n_left > 0 && !self.ended {
            match self.takes.read(n_left, planes) {
                Ok(0) => self.ended = true,
                Ok(n_read) => {
                    self.n_read += n_read as u64;
                    n_left -= n_read.min(n_left);
                }
                Err(error) => {
                    self.ended = true;
                    self.failure = Some(error);
                }
            }
        }
    }
}
