//! Stretches of all recordings, each channel shifted by whole samples.
//!
//! Takes recordings at their start and how far each channel is to be read ahead, gives blocks of all channels that belong to the same
//! moment of the mix. Silence stands before the recording begins and after it ends.

use super::feed::Feed;
use super::stream::{Place, Recorder, places, read_stretch};
use crate::unit::Span;

/// Recordings that are read with shifts.
pub(super) struct Aligned {
    feeds: Vec<Feed>,
    places: Vec<Place>,
    rate_hz: u32,
    /// Samples by which each channel is read ahead; negative: late.
    ahead: Vec<i64>,
}

impl Aligned {
    /// All channels as they stand.
    pub(super) fn new(recorders: Vec<Recorder>, n_channels: usize, rate_hz: u32) -> Self {
        let places = places(&recorders, n_channels);
        let feeds = recorders.into_iter().map(|recorder| recorder.feed).collect();
        Self { feeds, places, rate_hz, ahead: vec![0; n_channels] }
    }

    /// Reads a channel that many samples ahead.
    pub(super) fn shift(&mut self, channel: usize, samples: i64) {
        self.ahead[channel] = samples;
    }

    /// Reads a stretch, block by block.
    pub(super) fn read(&mut self, stretch: Span, mut each: impl FnMut(&[&[f32]])) {
        let first = self.ahead.iter().copied().min().unwrap_or(0);
        let last = self.ahead.iter().copied().max().unwrap_or(0);
        let start = self.samples(stretch.start_s) + first;
        // Before the begin of the session lies silence.
        let n_before = count(-start);
        let n_wanted = count(self.samples(stretch.end_s) - self.samples(stretch.start_s));
        let mut queues = Queues {
            planes: vec![vec![0.0; n_before]; self.places.len()],
            to_drop: self.ahead.iter().map(|ahead| count(ahead - first)).collect(),
            n_left: n_wanted,
        };
        #[expect(clippy::cast_precision_loss, reason = "far below 2^52 samples")]
        let start_s = start.max(0) as f64 / f64::from(self.rate_hz);
        let n_to_read = (n_wanted + count(last - first)).saturating_sub(n_before);
        let Self { feeds, places, rate_hz, .. } = self;
        read_stretch(feeds, places, start_s, n_to_read, *rate_hz, |planes| {
            queues.push(planes);
            queues.pass(&mut each);
        });
        queues.pass(&mut each);
    }

    #[expect(clippy::cast_possible_truncation, reason = "far below 2^52 samples")]
    fn samples(&self, at_s: f64) -> i64 {
        (at_s * f64::from(self.rate_hz)).round() as i64
    }
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
    /// Samples of the stretch that were not passed on yet.
    n_left: usize,
}

impl Queues {
    fn push(&mut self, planes: &[&[f32]]) {
        for ((queue, to_drop), plane) in self.planes.iter_mut().zip(&mut self.to_drop).zip(planes) {
            queue.extend_from_slice(plane);
            let n_dropped = (*to_drop).min(queue.len());
            queue.drain(..n_dropped);
            *to_drop -= n_dropped;
        }
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
