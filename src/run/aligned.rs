//! Stretches of all recordings, each channel shifted by whole samples.
//!
//! Takes recordings at their start and how far each channel is to be read ahead, gives blocks of all channels that belong to the same
//! moment of the mix. Silence stands before the recording begins and after it ends.

use rayon::prelude::*;

use super::feed::Feed;
use super::stream::{BLOCK_FRAMES, Place, Recorder, places};
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

    /// Reads a channel that many samples further ahead.
    pub(super) fn shift(&mut self, channel: usize, samples: i64) {
        self.ahead[channel] += samples;
    }

    /// Reads a stretch, block by block.
    pub(super) fn read(&mut self, stretch: Span, mut each: impl FnMut(&[&[f32]])) {
        let (first, last) = (
            self.ahead.iter().copied().min().unwrap_or(0),
            self.ahead.iter().copied().max().unwrap_or(0),
        );
        let start = self.samples(stretch.start_s) + first;
        let rate_hz = self.rate_hz;
        #[expect(clippy::cast_precision_loss, reason = "far below 2^52 samples")]
        let start_s = start.max(0) as f64 / f64::from(rate_hz);
        self.feeds.par_iter_mut().for_each(|feed| feed.seek(start_s, rate_hz));
        // Before the begin of the session lies silence.
        let n_before = count(-start);
        let mut waiting: Vec<Vec<f32>> = vec![vec![0.0; n_before]; self.places.len()];
        let mut to_drop: Vec<usize> = self.ahead.iter().map(|ahead| count(ahead - first)).collect();
        let n_wanted = count(self.samples(stretch.end_s) - self.samples(stretch.start_s));
        let mut n_left = n_wanted;
        let mut n_to_read = n_wanted + count(last - first);
        n_to_read = n_to_read.saturating_sub(n_before);
        while n_left > 0 {
            let n_next = n_to_read.min(BLOCK_FRAMES);
            n_to_read -= n_next;
            let portions: Vec<_> =
                self.feeds.par_iter_mut().map(|feed| feed.next(n_next)).collect();
            for (channel, &(recorder, plane)) in self.places.iter().enumerate() {
                waiting[channel].extend_from_slice(&portions[recorder].planes[plane]);
                let n_dropped = to_drop[channel].min(waiting[channel].len());
                waiting[channel].drain(..n_dropped);
                to_drop[channel] -= n_dropped;
            }
            let n_ready = waiting.iter().map(Vec::len).min().unwrap_or(0).min(n_left);
            if n_ready > 0 {
                let planes: Vec<&[f32]> = waiting.iter().map(|plane| &plane[..n_ready]).collect();
                each(&planes);
                waiting.iter_mut().for_each(|plane| drop(plane.drain(..n_ready)));
                n_left -= n_ready;
            } else if n_next == 0 {
                break;
            }
        }
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
