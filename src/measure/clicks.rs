//! # Clicks
//!
//! Single jumps in the waveform, shorter than 1.5 ms, that belong to no sound: clock faults, bad cables, edits.
//!
//! - **Formula:** a place whose second difference, in 64 samples, is 4 times the largest in the 4 ms around is looked
//!   at more closely: linear prediction of order 24 over 64 ms; a burst in which the prediction error exceeds 25
//!   times its local median (times 1.48) within 1.5 ms, behind which the level of 25 ms is at most 3 times and the error of
//!   6 ms at most 1.6 times what they were before, and whose error exceeds 3 times the largest within 7 ms on either side, a
//!   quarter of the level before, and -60 dBFS; none where half of it comes at one distance of 2 to 25 ms before and behind:
//!   that is a string or a reed
//! - **Unit:** events
//! - **Range:** 0 upwards
//! - **Source:** detection by prediction error is long-standing restoration practice (Godsill and Rayner, Digital
//!   Audio Restoration, 1998, from memory); borders from trials on simulated clips
//! - **Window:** whole recording without the first and last 32 ms, at the file's own rate
//! - **No value:** never; a silent channel has none
//! - **Misleads when:** the source clicks by nature (rim shots on a dry track, keys of an instrument)

use std::ops::Range;

use crate::dsp::dot::dot;
use crate::dsp::{Frames, Group};

/// Samples on each side of a suspected click that the prediction is made from, at rates up to 48 kHz: 32 ms.
const SIDE: usize = 1536;

/// New samples in a frame; a multiple of [`CELL`].
const HOP: usize = 4096;

/// Samples whose largest second difference is taken together.
const CELL: usize = 64;

/// Cells on each side that a suspected cell is compared with; the direct neighbours may share the click.
const NEIGHBOURS: [usize; 2] = [2, 4];

/// How far a suspected cell stands out of its neighbours. The prediction asks for more.
const STANDS_OUT: f32 = 4.0;

/// Order of the prediction.
const ORDER: usize = 24;

/// How far the prediction error exceeds its median in a click.
const ERROR_RATIO: f64 = 25.0;

/// How far it exceeds the largest error within 7 ms before and behind it: those of noise reach 3 times their RMS.
const STANDS_ALONE: f64 = 3.0;

/// How much louder it may be behind a click: beyond that something begins, and its begin is no click.
const MOST_GROWTH: f64 = 3.0;

/// Share of an error that comes again at one distance before and behind.
const SAME_AGAIN: f64 = 0.5;

/// Clicks lower than -60 dBFS are not heard.
const LOWEST: f64 = 1e-3;

/// Clicks closer than this are one.
const JOIN_S: f64 = 0.020;

/// Times kept.
const MAX_TIMES: usize = 100;

/// Clicks of one channel.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Clicks {
    /// How many.
    pub count: usize,
    /// When, in seconds: the first hundred at most.
    pub at_s: Vec<f64>,
}

impl Clicks {
    /// The clicks that are not the edge of a fault known by other means: none of `faults_s` lies within 250 ms before.
    pub fn without(&self, faults_s: &[f64]) -> Self {
        /// The longest dropout plus what its edges take.
        const REACH_S: f64 = 0.250;
        let is_own = |at_s: &f64| {
            !faults_s.iter().any(|fault_s| (fault_s - 0.005..fault_s + REACH_S).contains(at_s))
        };
        let at_s: Vec<f64> = self.at_s.iter().copied().filter(is_own).collect();
        Self { count: self.count - (self.at_s.len() - at_s.len()), at_s }
    }
}

/// Finds clicks.
#[derive(Clone, Debug)]
pub struct ClickMeter {
    rate_hz: f64,
    channels: Vec<(Frames, Scan)>,
}

impl ClickMeter {
    /// A meter for `n_channels` at `rate_hz`.
    pub fn new(rate_hz: u32, n_channels: usize) -> Self {
        let side = SIDE * (rate_hz as usize).div_ceil(48_000);
        let rate_hz = f64::from(rate_hz);
        let scan = Scan { rate_hz, side, ..Scan::default() };
        Self { rate_hz, channels: vec![(Frames::new(2 * side, HOP), scan); n_channels] }
    }

    /// Takes a block.
    pub fn push(&mut self, group: Group<'_>) {
        for ((frames, scan), plane) in self.channels.iter_mut().zip(group.planes()) {
            frames.push(plane, |first, frame| scan.frame(first, frame));
        }
    }

    /// The clicks of each channel.
    #[expect(clippy::cast_precision_loss, reason = "sample numbers are below 2^52")]
    pub fn finish(self) -> Vec<Clicks> {
        let rate_hz = self.rate_hz;
        let finish = |(frames, mut scan): (Frames, Scan)| {
            frames.finish(|first, frame| scan.frame(first, frame));
            let at_s = scan.at.iter().map(|&at| at as f64 / rate_hz).collect();
            Clicks { count: scan.count, at_s }
        };
        self.channels.into_iter().map(finish).collect()
    }
}

#[derive(Clone, Debug, Default)]
struct Scan {
    rate_hz: f64,
    /// [`SIDE`] at this rate.
    side: usize,
    /// Largest second difference of each cell in the frame; kept to spare its memory.
    cells: Vec<f32>,
    count: usize,
    last: usize,
    at: Vec<usize>,
}

impl Scan {
    /// Looks at the samples that have a whole side before and behind them.
    fn frame(&mut self, first: usize, frame: &[f32]) {
        // Cells from NEIGHBOURS before the first to NEIGHBOURS behind the last that is judged.
        let begin = self.side - NEIGHBOURS[1] * CELL;
        let end = frame.len() - begin;
        let mut cells = std::mem::take(&mut self.cells);
        cells.clear();
        let in_cells = frame[begin - 2..end].windows(CELL + 2).step_by(CELL);
        cells.extend(in_cells.map(largest_second_difference));
        for middle in NEIGHBOURS[1]..cells.len().saturating_sub(NEIGHBOURS[1]) {
            let around = (NEIGHBOURS[0]..=NEIGHBOURS[1])
                .map(|away| cells[middle - away].max(cells[middle + away]))
                .fold(0.0, f32::max);
            let is_local = cells[middle] >= cells[middle - 1] && cells[middle] > cells[middle + 1];
            if is_local
                && f64::from(cells[middle]) >= LOWEST
                && cells[middle] >= STANDS_OUT * around
            {
                self.look(first, begin + middle * CELL, frame);
            }
        }
        self.cells = cells;
    }

    /// Looks at one suspected cell.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a fiftieth of a sample rate is a small positive number"
    )]
    fn look(&mut self, first: usize, place: usize, frame: &[f32]) {
        let middle = place + CELL / 2;
        // Of the first samples of a recording only half the surroundings exist.
        let (Some(from), to) = (middle.checked_sub(self.side), middle + self.side) else { return };
        if to > frame.len() || first + from < 2 * self.side {
            return;
        }
        let Some(at) = click(&frame[from..to], self.rate_hz) else { return };
        let at = first + from + at - 2 * self.side;
        if self.count == 0 || at > self.last + (JOIN_S * self.rate_hz) as usize {
            self.count += 1;
            if self.at.len() < MAX_TIMES {
                self.at.push(at);
            }
        }
        self.last = at;
    }
}

/// Largest size of the second difference. Compared as integers so that the loop runs in lanes.
fn largest_second_difference(samples: &[f32]) -> f32 {
    let bits = samples
        .windows(3)
        .map(|w| ((w[2] - 2.0 * w[1] + w[0]).to_bits() & 0x7fff_ffff).cast_signed())
        .fold(0, i32::max);
    f32::from_bits(bits.cast_unsigned())
}

/// Where a click lies within 3 ms of the middle of the samples, if one does.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "lengths in samples are small positive numbers"
)]
fn click(samples: &[f32], rate_hz: f64) -> Option<usize> {
    let scale = |n: f64| (n * rate_hz / 48_000.0).round() as usize;
    let x: Vec<f64> = samples.iter().map(|&x| f64::from(x)).collect();
    let error = prediction_error(&x);
    let mut sorted: Vec<f64> = error.iter().skip(ORDER).copied().collect();
    let half = sorted.len() / 2;
    let median = *sorted.select_nth_unstable_by(half, f64::total_cmp).1;
    let border = ERROR_RATIO * (1.48 * median + 2e-6);
    let middle = x.len() / 2;
    let near = scale(144.0).max(2 * CELL).min(middle);
    let beyond = |place: &usize| error[*place] > border;
    let start = (middle - near..middle + near).find(beyond)?;
    let end = (start..start + scale(96.0)).rev().find(beyond)?;
    if end - start >= scale(72.0) {
        return None;
    }
    let level = |from: usize, to: usize| rms(&x[from..to.min(x.len())]);
    let far = scale(1224.0);
    let level_before = level(start.saturating_sub(far), start - scale(24.0));
    let level_after = level(end + scale(96.0), end + scale(96.0) + far);
    let error_before = mean(&error[start - scale(336.0)..start - scale(24.0)]);
    let error_after = mean(&error[end + scale(48.0)..end + scale(336.0)]);
    let top = largest(&error[start..=end]);
    // The end of an S before a vowel is no click: it stands among errors of its like.
    let most_before = largest(&error[start - scale(336.0)..start - scale(24.0)]);
    let most_after = largest(&error[end + scale(48.0)..end + scale(336.0)]);
    let is_click = level_after < MOST_GROWTH * level_before + 1e-4
        && error_after < 1.6 * error_before + 2e-6
        && top > STANDS_ALONE * most_before.max(most_after)
        && top > 0.25 * level(start - scale(480.0), start - scale(24.0))
        && top > LOWEST
        && !comes_again(&error, start, top, scale(96.0)..far, scale(12.0));
    is_click.then_some(start)
}

/// Whether an error comes again as far before a place as behind it: the corner of a wave, not a click.
fn comes_again(
    error: &[f64],
    place: usize,
    top: f64,
    distances: Range<usize>,
    about: usize,
) -> bool {
    let around = |at: usize| error.get(at.saturating_sub(about)..=at + about).map_or(0.0, largest);
    distances.step_by(about.div_ceil(2)).any(|away| {
        place > away + about && around(place - away).min(around(place + away)) > SAME_AGAIN * top
    })
}

fn largest(values: &[f64]) -> f64 {
    values.iter().copied().fold(0.0, f64::max)
}

#[expect(clippy::cast_precision_loss, reason = "some hundreds of samples")]
fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

#[expect(clippy::cast_precision_loss, reason = "some hundreds of samples")]
fn rms(values: &[f64]) -> f64 {
    (dot(values, values) / values.len().max(1) as f64).sqrt()
}

/// Size of the error of a linear prediction (autocorrelation method, Levinson-Durbin recursion).
fn prediction_error(x: &[f64]) -> Vec<f64> {
    let windowed: Vec<f64> = x.iter().zip(hann(x.len())).map(|(x, window)| x * window).collect();
    let mut correlation = [0.0; ORDER + 1];
    for (lag, value) in correlation.iter_mut().enumerate() {
        *value = dot(&windowed[lag..], &windowed);
    }
    // A floor of -40 dB re the signal's own power keeps pure tones solvable.
    correlation[0] = correlation[0] * 1.0001 + 1e-9;
    let mut backwards = levinson(&correlation);
    backwards.reverse();
    let seen: Vec<f64> = std::iter::repeat_n(0.0, ORDER).chain(x.iter().copied()).collect();
    x.iter().zip(seen.windows(ORDER)).map(|(x, seen)| (x - dot(seen, &backwards)).abs()).collect()
}

#[expect(clippy::cast_precision_loss, reason = "some thousands of samples")]
fn hann(len: usize) -> impl Iterator<Item = f64> {
    (0..len).map(move |n| (std::f64::consts::PI * n as f64 / len as f64).sin().powi(2))
}

/// Predictor coefficients from an autocorrelation.
fn levinson(correlation: &[f64; ORDER + 1]) -> [f64; ORDER] {
    let mut a = [0.0; ORDER];
    let mut error = correlation[0];
    for order in 0..ORDER {
        let predicted: f64 = (0..order).map(|k| a[k] * correlation[order - k]).sum();
        let reflection = (correlation[order + 1] - predicted) / error;
        let before = a;
        for k in 0..order {
            a[k] = before[k] - reflection * before[order - 1 - k];
        }
        a[order] = reflection;
        error *= 1.0 - reflection * reflection;
    }
    a
}
