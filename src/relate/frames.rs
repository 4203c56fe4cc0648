//! Levels of all channels in frames of 100 ms, and yes-or-no series over them.
//!
//! Takes traces of 10 ms, gives levels side by side and spans. Never has channels of different length: what a shorter
//! trace lacks is silence.

use rayon::prelude::*;

use crate::measure::Trace;
use crate::unit::Span;

/// Length of a frame, in seconds.
pub(super) const FRAME_S: f64 = 0.1;

/// Steps of a trace in a frame.
const STEPS: usize = 10;

/// Level of silence, in dB.
const SILENCE_DB: f32 = -200.0;

/// Levels of all channels, frame by frame.
#[derive(Clone, Debug)]
pub(super) struct Levels {
    n_frames: usize,
    channels: Vec<Vec<f32>>,
    powers: Vec<Vec<f32>>,
}

impl Levels {
    /// Levels from traces of 10 ms.
    ///
    /// # Panics
    ///
    /// If a trace has other steps.
    #[expect(clippy::cast_possible_truncation, reason = "powers are held as f32")]
    pub(super) fn new(traces: &[&Trace]) -> Self {
        let is_fine = |trace: &&&Trace| (trace.step_s() - 0.01).abs() < 1e-9;
        assert!(traces.iter().all(|trace| is_fine(&trace)), "traces have steps of 10 ms");
        let n_frames = traces.iter().map(|trace| trace.len() / STEPS).max().unwrap_or(0);
        let powers = traces.par_iter().map(|trace| {
            let frame = |idx: usize| trace.mean_power(idx * STEPS, (idx + 1) * STEPS) as f32;
            (0..n_frames).map(frame).collect()
        });
        Self::from_powers(n_frames, powers.collect())
    }

    fn from_powers(n_frames: usize, powers: Vec<Vec<f32>>) -> Self {
        let level = |power: &f32| (10.0 * power.max(1e-20).log10()).max(SILENCE_DB);
        let channels = powers.par_iter().map(|powers| powers.iter().map(level).collect()).collect();
        Self { n_frames, channels, powers }
    }

    /// The mean power over `width` frames around each frame.
    #[expect(clippy::cast_precision_loss, reason = "a width is small")]
    pub(super) fn smoothed(&self, width: usize) -> Self {
        let smooth = |powers: &Vec<f32>| {
            let mean = |frame: usize| {
                let from = frame.saturating_sub(width / 2);
                let to = (frame + width.div_ceil(2)).min(powers.len());
                powers[from..to].iter().sum::<f32>() / (to - from) as f32
            };
            (0..powers.len()).map(mean).collect()
        };
        Self::from_powers(self.n_frames, self.powers.par_iter().map(smooth).collect())
    }

    /// How many frames.
    pub(super) fn n_frames(&self) -> usize {
        self.n_frames
    }

    /// Levels of a channel, in dB.
    pub(super) fn channel(&self, idx: usize) -> &[f32] {
        &self.channels[idx]
    }

    /// Powers of a channel.
    pub(super) fn power(&self, idx: usize) -> &[f32] {
        &self.powers[idx]
    }
}

/// The runs of frames in which a series has a value, as index ranges.
pub(super) fn runs(series: &[bool], value: bool) -> Vec<(usize, usize)> {
    let mut runs = Vec::new();
    let mut start = None;
    for (idx, &is) in series.iter().enumerate() {
        match (is == value, start) {
            (true, None) => start = Some(idx),
            (false, Some(from)) => {
                runs.push((from, idx));
                start = None;
            }
            _ => {}
        }
    }
    runs.extend(start.map(|from| (from, series.len())));
    runs
}

/// Sets gaps of at most `longest` frames that lie between set ones.
pub(super) fn close_gaps(series: &mut [bool], longest: usize) {
    let len = series.len();
    for (from, to) in runs(series, false) {
        if from > 0 && to < len && to - from <= longest {
            series[from..to].fill(true);
        }
    }
}

/// Clears stretches of fewer than `shortest` frames.
pub(super) fn drop_short(series: &mut [bool], shortest: usize) {
    for (from, to) in runs(series, true) {
        if to - from < shortest {
            series[from..to].fill(false);
        }
    }
}

/// The spans of the set frames.
#[expect(clippy::cast_precision_loss, reason = "counts of frames are far below 2^52")]
pub(super) fn spans(series: &[bool]) -> Vec<Span> {
    // Divided, not multiplied: 3 frames end at 0.3 s and not at 0.30000000000000004 s.
    let at = |frame: usize| frame as f64 / 10.0;
    runs(series, true).into_iter().map(|(from, to)| Span::new(at(from), at(to))).collect()
}

/// Frames whose middle lies in one of the spans.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "frame numbers are small and positive"
)]
pub(super) fn covered(spans: &[Span], n_frames: usize) -> Vec<bool> {
    let frame = |at_s: f64| ((at_s / FRAME_S).round().max(0.0) as usize).min(n_frames);
    let mut series = vec![false; n_frames];
    for span in spans {
        let (from, to) = (frame(span.start_s), frame(span.end_s));
        if from < to {
            series[from..to].fill(true);
        }
    }
    series
}
