//! # Clicks
//!
//! Single jumps in the waveform, shorter than 1 ms, that belong to no sound: clock faults, bad cables, edits.
//!
//! - **Formula:** linear prediction, by autocorrelation under a raised cosine. Its error is run through the filter that gave it once more,
//!   backwards: the matched error, in which a single wrong sample stands out most. A place whose matched error of order 8 over 85 ms is, in 64
//!   samples, 2.5 times the largest in the 4 ms around is looked at with order 24 over 64 ms. A click is what reaches a third of the
//!   largest matched error there, lasts 1 ms at most, has an error of -60 dBFS and 0.8 times the RMS of the 10 ms before or behind, whichever
//!   is more, and stands out of the 7 ms on either side: the error 2.5 times, or the matched error 4 times; more in proportion where
//!   the error is lower than twice that RMS. None where the mean error behind it is 1.6 times that before, unless it is 10 times
//!   the largest there, and none where half of it comes at one distance of 2 to 25 ms before and behind: that is a string or a reed
//! - **Unit:** events
//! - **Range:** 0 upwards
//! - **Source:** detection by prediction error and its matched filter is long-standing restoration practice (Vaseghi and Rayner 1990; Godsill
//!   and Rayner, Digital Audio Restoration, 1998; both from memory); borders from trials on simulated clips
//! - **Window:** whole recording without the first and last 32 ms, at the file's own rate
//! - **No value:** never; a silent channel has none
//! - **Misleads when:** the source clicks by nature (rim shots on a dry track, keys of an instrument); in noise, where a click of some
//!   times the RMS is no higher than the noise itself and stays unfound

use std::ops::Range;

use crate::dsp::dot::dot;
use crate::dsp::lanes::{CELL, Isa, LANES, lagged_sums, largest_outputs};
use crate::dsp::prediction::{autocorrelation, error, error_filter, matched, matched_taps};
use crate::dsp::window::hann;
use crate::dsp::{Frames, Group};

/// Samples on each side of a suspected click that the prediction is made from, at rates up to 48 kHz: 32 ms.
const SIDE: usize = 1536;

/// New samples in a frame; a multiple of [`CELL`].
const HOP: usize = 4096;

/// Cells on each side that a suspected cell is compared with; the direct neighbours may share the click.
const NEIGHBOURS: [usize; 2] = [2, 4];

/// How far a suspected cell stands out of its neighbours. The finer prediction asks for more.
const STANDS_OUT: f32 = 2.5;

/// Order of the prediction of a whole frame.
const COARSE_ORDER: usize = 8;
const N_COARSE: usize = COARSE_ORDER + 1;

/// Order of the prediction around a suspected click.
const ORDER: usize = 24;

/// How far the prediction error of a click exceeds the largest within 7 ms before and behind it: those of noise reach 3 times
/// their RMS.
const STANDS_ALONE: f32 = 2.5;

/// The same for the matched error, which music lets stand out more by nature.
const MATCHED_STANDS_ALONE: f32 = 4.0;

/// How far it exceeds the errors behind it where they grow: beyond that something may begin there, but the click is none of it.
const STANDS_APART: f32 = 10.0;

/// How much the errors may grow otherwise: something begins, and its begin is no click.
const MOST_GROWTH: f32 = 1.6;

/// Least height, as a share of the level of 10 ms before and behind. The jump of an attack is lower than what it begins.
const LEAST_SHARE: f32 = 0.8;

/// Height re the same level below which it must stand out more: music has lower errors that stand alone too.
const CERTAIN_SHARE: f32 = 2.0;

/// Share of an error that comes again at one distance before and behind.
const SAME_AGAIN: f32 = 0.5;

/// Clicks lower than -60 dBFS are not heard.
const LOWEST: f32 = 1e-3;

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
        let scan = Scan::new(rate_hz, side);
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

#[derive(Clone, Debug)]
struct Scan {
    isa: Isa,
    rate_hz: f64,
    /// [`SIDE`] at this rate.
    side: usize,
    /// Window of what is looked at closely, and of a frame.
    near: Vec<f32>,
    wide: Vec<f32>,
    /// Kept to spare their memory: samples under a window, and the largest coarse error of each cell.
    windowed: Vec<f32>,
    cells: Vec<f32>,
    count: usize,
    last: usize,
    at: Vec<usize>,
}

impl Scan {
    fn new(rate_hz: f64, side: usize) -> Self {
        Self {
            isa: Isa::best(),
            rate_hz,
            side,
            near: raised_cosine(2 * side),
            wide: raised_cosine(HOP),
            windowed: Vec::new(),
            cells: Vec::new(),
            count: 0,
            last: 0,
            at: Vec::new(),
        }
    }

    /// Looks at the samples that have a whole side before and behind them.
    fn frame(&mut self, first: usize, frame: &[f32]) {
        // Cells from NEIGHBOURS before the first to NEIGHBOURS behind the last that is judged.
        let begin = self.side - NEIGHBOURS[1] * CELL;
        let end = frame.len() - begin;
        let taps = self.coarse(&frame[self.side..frame.len() - self.side]);
        let mut cells = std::mem::take(&mut self.cells);
        cells.clear();
        let judged = &frame[begin - COARSE_ORDER..end + COARSE_ORDER];
        largest_outputs(self.isa, judged, &taps, &mut cells);
        for middle in NEIGHBOURS[1]..cells.len().saturating_sub(NEIGHBOURS[1]) {
            let around = (NEIGHBOURS[0]..=NEIGHBOURS[1])
                .map(|away| cells[middle - away].max(cells[middle + away]))
                .fold(0.0, f32::max);
            let is_local = cells[middle] >= cells[middle - 1] && cells[middle] > cells[middle + 1];
            if is_local && cells[middle] >= LOWEST && cells[middle] >= STANDS_OUT * around {
                self.look(first, begin + middle * CELL, frame);
            }
        }
        self.cells = cells;
    }

    /// Filter that lifts single wrong samples out of a frame.
    #[expect(clippy::cast_possible_truncation, reason = "taps of some tens")]
    fn coarse(&mut self, samples: &[f32]) -> [f32; N_COARSE] {
        // The last frame is shorter.
        if self.wide.len() != samples.len() {
            self.wide = raised_cosine(samples.len());
        }
        put_under(&self.wide, samples, &mut self.windowed);
        self.windowed.extend([0.0; COARSE_ORDER + LANES]);
        let sums: [f32; N_COARSE] = lagged_sums(self.isa, &self.windowed);
        let taps = matched_taps(&error_filter(&floored(sums.map(f64::from).to_vec())));
        std::array::from_fn(|n| taps[n] as f32)
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
        let samples = &frame[from..to];
        put_under(&self.near, samples, &mut self.windowed);
        let filter = error_filter(&floored(autocorrelation(&self.windowed, ORDER)));
        let filter: Vec<f32> = filter.into_iter().map(|tap| tap as f32).collect();
        let Some(at) = click(samples, &filter, self.rate_hz) else { return };
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

/// Where a click lies in the middle of the samples, if one does.
fn click(samples: &[f32], filter: &[f32], rate_hz: f64) -> Option<usize> {
    // What lies within 15 ms says no to most.
    let reach = (n_samples(720.0, rate_hz) + 2 * CELL).min(samples.len() / 2);
    let skipped = samples.len() / 2 - reach;
    let near = &samples[skipped..skipped + 2 * reach];
    let errors = Errors::of(near, filter);
    let burst = Burst::of(&errors.matched, rate_hz)?;
    let begin = burst.start - n_samples(4.0, rate_hz);
    let here = &errors.plain[begin..burst.end + n_samples(4.0, rate_hz)];
    let top = largest(here);
    let level = rms(&near[burst.before(480.0)]).max(rms(&near[burst.behind(576.0)]));
    let rises = errors.rise(&burst) > MOST_GROWTH && errors.apart(&burst, top) < STANDS_APART;
    if top < LOWEST || top < LEAST_SHARE * level || rises {
        return None;
    }
    let certain = (top / (CERTAIN_SHARE * level + 1e-6)).min(1.0);
    let alone = certain * burst.stands_out(&errors.plain, top) > STANDS_ALONE;
    let alone_matched =
        certain * burst.stands_out(&errors.matched, burst.height) > MATCHED_STANDS_ALONE;
    if !alone && !alone_matched {
        return None;
    }
    let wide = Errors::of(samples, filter);
    let comes_again = |sizes: &[f32], top| comes_again(sizes, skipped + burst.peak, top, rate_hz);
    let is_click = alone && !comes_again(&wide.plain, top)
        || alone_matched && !comes_again(&wide.matched, burst.height);
    let first = here.iter().position(|size| *size >= 0.5 * top)?;
    is_click.then_some(skipped + begin + first)
}

/// Sizes of the errors of prediction.
struct Errors {
    plain: Vec<f32>,
    /// Those of the matched filter.
    matched: Vec<f32>,
}

impl Errors {
    /// Those of each sample; 0 where too few others lie before or behind.
    fn of(samples: &[f32], filter: &[f32]) -> Self {
        let plain = error(samples, filter);
        let matched = matched(&plain, filter);
        let nothing = || std::iter::repeat_n(0.0, ORDER);
        let sizes = |of: Vec<f32>| nothing().chain(of.into_iter().map(f32::abs));
        Self { plain: sizes(plain).collect(), matched: sizes(matched).chain(nothing()).collect() }
    }

    /// How many times larger they are behind a burst than before.
    fn rise(&self, burst: &Burst) -> f32 {
        mean(&self.plain[burst.behind(336.0)]) / (mean(&self.plain[burst.before(336.0)]) + 1e-6)
    }

    /// How far a burst stands out of what lies behind it.
    fn apart(&self, burst: &Burst, top: f32) -> f32 {
        let behind = |sizes: &[f32]| largest(&sizes[burst.behind(336.0)]);
        (top / behind(&self.plain)).max(burst.height / behind(&self.matched))
    }
}

/// What stands out in the middle of some samples.
struct Burst {
    start: usize,
    /// Behind its last sample.
    end: usize,
    peak: usize,
    height: f32,
    rate_hz: f64,
}

impl Burst {
    /// The highest place near the middle with what reaches a third of it, if all that lasts 1 ms at most.
    fn of(matched: &[f32], rate_hz: f64) -> Option<Self> {
        let middle = matched.len() / 2;
        let near = middle - CELL / 2..middle + CELL / 2;
        let peak = near.max_by(|a, b| matched[*a].total_cmp(&matched[*b]))?;
        let height = matched[peak];
        let beyond = |place: &usize| matched[*place] > 0.3 * height;
        let longest = n_samples(48.0, rate_hz);
        let start = (peak - longest..=peak).find(beyond)?;
        let end = 1 + (peak..peak + longest).rev().find(beyond)?;
        (end - start <= longest).then_some(Self { start, end, peak, height, rate_hz })
    }

    /// So many samples before it, less the last half millisecond.
    fn before(&self, at_48_khz: f64) -> Range<usize> {
        let place = |away: f64| self.start - n_samples(away, self.rate_hz);
        place(at_48_khz)..place(24.0)
    }

    /// So many samples behind it, less the first millisecond.
    fn behind(&self, at_48_khz: f64) -> Range<usize> {
        let place = |away: f64| self.end + n_samples(away, self.rate_hz);
        place(48.0)..place(at_48_khz)
    }

    /// How far it stands out of what lies within 7 ms.
    fn stands_out(&self, sizes: &[f32], top: f32) -> f32 {
        top / largest(&sizes[self.before(336.0)]).max(largest(&sizes[self.behind(336.0)]))
    }
}

/// Whether an error comes again as far before a place as behind it, 2 to 25 ms: the corner of a wave, not a click.
fn comes_again(sizes: &[f32], place: usize, top: f32, rate_hz: f64) -> bool {
    let (from, to) = (n_samples(96.0, rate_hz), n_samples(1224.0, rate_hz));
    let about = n_samples(12.0, rate_hz);
    let around = |at: usize| sizes.get(at.saturating_sub(about)..=at + about).map_or(0.0, largest);
    (from..to).step_by(about.div_ceil(2)).any(|away| {
        place > away + about && around(place - away).min(around(place + away)) > SAME_AGAIN * top
    })
}

/// Samples times a window.
fn put_under(window: &[f32], samples: &[f32], windowed: &mut Vec<f32>) {
    windowed.clear();
    windowed.extend_from_slice(samples);
    windowed.iter_mut().zip(window).for_each(|(x, weight)| *x *= weight);
}

/// Samples at a rate for some at 48 kHz.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "lengths in samples are small positive numbers"
)]
fn n_samples(at_48_khz: f64, rate_hz: f64) -> usize {
    (at_48_khz * rate_hz / 48_000.0).round() as usize
}

/// A floor of -40 dB re the signal's own power keeps pure tones solvable.
fn floored(mut correlation: Vec<f64>) -> Vec<f64> {
    correlation[0] = correlation[0] * 1.0001 + 1e-9;
    correlation
}

fn largest(values: &[f32]) -> f32 {
    values.iter().copied().fold(0.0, f32::max)
}

#[expect(clippy::cast_precision_loss, reason = "some hundreds of samples")]
fn mean(values: &[f32]) -> f32 {
    values.iter().sum::<f32>() / values.len().max(1) as f32
}

#[expect(clippy::cast_precision_loss, reason = "some hundreds of samples")]
fn rms(values: &[f32]) -> f32 {
    (dot(values, values) / values.len().max(1) as f32).sqrt()
}

#[expect(clippy::cast_possible_truncation, reason = "weights of 0 to 1")]
fn raised_cosine(len: usize) -> Vec<f32> {
    (0..len).map(|place| hann(place, len) as f32).collect()
}
