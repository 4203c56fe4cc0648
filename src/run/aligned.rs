//! Stretches of all recordings, each channel shifted by whole samples, or read by its own clock.
//!
//! Takes recordings at their start and how far each channel is to be read ahead, gives blocks of all channels that belong to the same
//! moment of the mix. Silence stands before the recording begins and after it ends.

use super::feed::Feed;
use super::sample_at;
use rayon::prelude::*;

use super::stream::{Place, Recorder, places, read_stretch};
use crate::dsp::slide::{REACH, Slide};
use crate::unit::Span;

/// A clock beside that of the session.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Clock {
    /// How much later its recording stands at the begin of the session, in samples.
    pub(super) late_samples: f64,
    /// How many millionths more samples it takes.
    pub(super) ppm: f64,
}

/// Recordings that are read with shifts.
pub(super) struct Aligned {
    feeds: Vec<Feed>,
    places: Vec<Place>,
    rate_hz: u32,
    /// Samples by which each channel is read ahead; negative: late.
    ahead: Vec<i64>,
    /// Clocks of channels whose recorder had one of its own.
    clocks: Vec<Option<Clock>>,
}

impl Aligned {
    /// All channels as they stand.
    pub(super) fn new(recorders: Vec<Recorder>, n_channels: usize, rate_hz: u32) -> Self {
        let places = places(&recorders, n_channels);
        let feeds = recorders.into_iter().map(|recorder| recorder.feed).collect();
        Self { feeds, places, rate_hz, ahead: vec![0; n_channels], clocks: vec![None; n_channels] }
    }

    /// Reads a channel that many samples ahead.
    pub(super) fn shift(&mut self, channel: usize, samples: i64) {
        self.ahead[channel] = samples;
    }

    /// Reads a channel by its own clock, or by that of the session again.
    pub(super) fn keep_time(&mut self, channel: usize, clock: Option<Clock>) {
        self.clocks[channel] = clock;
    }

    /// Reads a stretch, block by block.
    pub(super) fn read(&mut self, stretch: Span, mut each: impl FnMut(&[&[f32]]) + Send) {
        let begin = sample_at(stretch.start_s, self.rate_hz);
        let n_wanted = count(sample_at(stretch.end_s, self.rate_hz) - begin);
        let (ahead, slides): (Vec<i64>, Vec<Option<Slide>>) =
            (0..self.places.len()).map(|channel| self.way(channel, begin)).unzip();
        // Each recording from where the first of its channels needs it.
        let starts: Vec<i64> = (0..self.feeds.len())
            .map(|feed| {
                let of_feed =
                    self.places.iter().zip(&ahead).filter(|((place, _), _)| *place == feed);
                begin + of_feed.map(|(_, ahead)| *ahead).min().unwrap_or(0)
            })
            .collect();
        let to_drop: Vec<usize> = self
            .places
            .iter()
            .zip(&ahead)
            .map(|((feed, _), ahead)| count(begin + ahead - starts[*feed]))
            .collect();
        let n_more = if slides.iter().any(Option::is_some) { slack(n_wanted) } else { 0 };
        let n_to_read = n_wanted + to_drop.iter().max().unwrap_or(&0) + n_more;
        let planes = vec![Vec::new(); self.places.len()];
        let mut queues = Queues { planes, to_drop, slides, n_left: n_wanted };
        let Self { feeds, places, rate_hz, .. } = self;
        read_stretch(feeds, places, &starts, n_to_read, *rate_hz, |planes| {
            if queues.are_idle() {
                queues.lend(planes, &mut each);
            } else {
                queues.push(planes);
                queues.pass(&mut each);
            }
        });
        queues.pass(&mut each);
    }

    /// How far a channel is to be read ahead from a sample of the session on, and what reads it between its samples.
    #[expect(clippy::cast_possible_truncation, reason = "far below 2^52 samples")]
    #[expect(clippy::cast_precision_loss, reason = "far below 2^52 samples")]
    fn way(&self, channel: usize, begin: i64) -> (i64, Option<Slide>) {
        let Some(clock) = self.clocks[channel] else { return (self.ahead[channel], None) };
        let late = clock.late_samples + begin as f64 * clock.ppm * 1e-6;
        let slide = Slide::new(late - late.floor(), 1.0 + clock.ppm * 1e-6);
        (late.floor() as i64 - REACH as i64, Some(slide))
    }
}

/// Samples that a clock of its own may need beyond those that are wanted: a thousandth of them, and what reads between samples.
fn slack(n_wanted: usize) -> usize {
    n_wanted / 1000 + 2 * REACH + 2
}

/// A count of samples; none if it is negative.
fn count(samples: i64) -> usize {
    usize::try_from(samples).unwrap_or(0)
}

/// Samples that wait until all channels have those of the same moment.
struct Queues {
    planes: Vec<Vec<f32>>,
    /// Samples of each channel that lie before the stretch.
    to_drop: Vec<usize>,
    /// What reads channels between their samples.
    slides: Vec<Option<Slide>>,
    /// Samples of the stretch that were not passed on yet.
    n_left: usize,
}

impl Queues {
    /// Whether all channels stand at the same moment, and none has to be read between its samples.
    fn are_idle(&self) -> bool {
        self.planes.iter().all(Vec::is_empty)
            && self.to_drop.iter().all(|&n| n == 0)
            && self.slides.iter().all(Option::is_none)
    }

    /// Passes a block on as it is.
    fn lend(&mut self, planes: &[&[f32]], each: &mut impl FnMut(&[&[f32]])) {
        let n_ready = planes.first().map_or(0, |plane| plane.len()).min(self.n_left);
        if n_ready > 0 {
            let planes: Vec<&[f32]> = planes.iter().map(|plane| &plane[..n_ready]).collect();
            each(&planes);
            self.n_left -= n_ready;
        }
    }

    fn push(&mut self, planes: &[&[f32]]) {
        let ways = self.to_drop.par_iter_mut().zip(&mut self.slides);
        let queues = self.planes.par_iter_mut().zip(ways).zip(planes);
        queues.for_each(|((queue, (to_drop, slide)), plane)| {
            let n_dropped = (*to_drop).min(plane.len());
            *to_drop -= n_dropped;
            match slide {
                Some(slide) => slide.push(&plane[n_dropped..], queue),
                None => queue.extend_from_slice(&plane[n_dropped..]),
            }
        });
    }

    /// Passes on what all channels have.
    fn pass(&mut self, each: &mut impl FnMut(&[&[f32]])) {
        let n_ready = self.planes.iter().map(Vec::len).min().unwrap_or(0).min(self.n_left);
        if n_ready > 0 {
            let planes: Vec<&[f32]> = self.planes.iter().map(|plane| &plane[..n_ready]).collect();
            each(&planes);
            self.planes.iter_mut().for_each(|plane| drop(plane.drain(..n_ready)));
            self.n_left -= n_ready;
        }
    }
}
