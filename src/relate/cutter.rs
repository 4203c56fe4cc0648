//! Frames of several channels at once, on a grid of whole hops, never across a gap.
//!
//! Takes blocks of all channels, keeps those that are wanted, gives the same samples of each in frames. Frame number `t`
//! holds the samples from `t` hops on, counted from the begin of the session. Never gives a frame with a gap in it.

/// Most frames that are given at once: enough to keep threads busy.
pub(super) const MOST_FRAMES: usize = 16;

/// Cuts several channels into frames.
#[derive(Clone, Debug)]
pub(super) struct Cutter {
    frame: usize,
    hop: usize,
    /// Channels that are kept, in rising order.
    channels: Vec<usize>,
    /// Samples of each of them, from `start` on.
    buffers: Vec<Vec<f32>>,
    /// Session sample with which the buffers begin: a whole number of hops.
    start: u64,
    /// Samples that come before it.
    n_early: usize,
}

impl Cutter {
    /// Frames of `frame` samples, a new one every `hop`, of some channels.
    pub(super) fn new(frame: usize, hop: usize, mut channels: Vec<usize>) -> Self {
        channels.sort_unstable();
        channels.dedup();
        let longest = frame + (MOST_FRAMES - 1) * hop;
        let buffers = channels.iter().map(|_| Vec::with_capacity(longest)).collect();
        Self { frame, hop, channels, buffers, start: 0, n_early: 0 }
    }

    /// How many channels are kept.
    pub(super) fn n_kept(&self) -> usize {
        self.channels.len()
    }

    /// Place of a channel among those that are kept.
    pub(super) fn place(&self, channel: usize) -> usize {
        self.channels.binary_search(&channel).expect("the channel is one of those that are kept")
    }

    /// Forgets what waits: the next block begins with this session sample.
    pub(super) fn jump(&mut self, next: u64) {
        self.buffers.iter_mut().for_each(Vec::clear);
        let hop = self.hop as u64;
        self.start = next.div_ceil(hop) * hop;
        self.n_early =
            usize::try_from(self.start - next).expect("what is skipped is shorter than a hop");
    }

    /// Takes the next block of all channels of the session; calls `each` whenever frames are full.
    ///
    /// # Panics
    ///
    /// If planes differ in length, or a channel that is kept has none.
    pub(super) fn push(&mut self, planes: &[&[f32]], mut each: impl FnMut(&Self)) {
        let len = planes.first().map_or(0, |plane| plane.len());
        assert!(planes.iter().all(|plane| plane.len() == len), "planes are equally long");
        let mut from = self.n_early.min(len);
        self.n_early -= from;
        while from < len && !self.channels.is_empty() {
            let room = self.frame + (MOST_FRAMES - 1) * self.hop - self.buffers[0].len();
            let to = (from + room).min(len);
            for (buffer, &channel) in self.buffers.iter_mut().zip(&self.channels) {
                buffer.extend_from_slice(&planes[channel][from..to]);
            }
            from = to;
            if self.n_frames() > 0 {
                each(self);
                let n_done = self.n_frames() * self.hop;
                for buffer in &mut self.buffers {
                    buffer.copy_within(n_done.., 0);
                    buffer.truncate(buffer.len() - n_done);
                }
                self.start += n_done as u64;
            }
        }
    }

    /// Frames that are full.
    pub(super) fn n_frames(&self) -> usize {
        let n_samples = self.buffers.first().map_or(0, Vec::len);
        (n_samples + self.hop).saturating_sub(self.frame) / self.hop
    }

    /// Number of the first of them.
    pub(super) fn first_number(&self) -> u64 {
        self.start / self.hop as u64
    }

    /// One of them, of the channel at a place.
    pub(super) fn frame(&self, place: usize, idx: usize) -> &[f32] {
        &self.buffers[place][idx * self.hop..idx * self.hop + self.frame]
    }
}
