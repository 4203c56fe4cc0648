//! Held values of neighbouring bins, copied out of a spectrogram in whole runs.
//!
//! Takes channels, bins and blocks of frames, gives the held whole numbers bin by bin. In the spectrogram the same bin of two channels
//! lies so far apart that a reader who goes from channel to channel waits for the memory each time; a run of bins comes at once. Never
//! changes a value.

use std::ops::Range;

use super::spectrogram::{BLOCK, Spectrogram};

/// Values of some channels, blocks and bins.
#[derive(Default)]
pub(super) struct Staged {
    first_bin: usize,
    n_bins: usize,
    n_blocks: usize,
    /// Channel by channel, in each the blocks, in each the bins, in each the frames.
    cells: Vec<[i16; 2]>,
    /// Channel by channel, in each the blocks, in each the bins.
    scales: Vec<f32>,
}

impl Staged {
    /// Copies; what was held before is gone.
    pub(super) fn fill(
        &mut self,
        held: &Spectrogram,
        channels: &[usize],
        bins: Range<usize>,
        blocks: &[usize],
    ) {
        (self.first_bin, self.n_bins, self.n_blocks) = (bins.start, bins.len(), blocks.len());
        self.cells.clear();
        self.scales.clear();
        for &channel in channels {
            for &block in blocks {
                let (cells, scales) = held.blocks(channel, block, bins.clone());
                self.cells.extend_from_slice(cells);
                self.scales.extend_from_slice(scales);
            }
        }
    }

    /// Whole numbers of a bin, and what they are to be multiplied by: of the `idx`th channel and the `block`th block of those that
    /// were copied.
    pub(super) fn of(&self, idx: usize, block: usize, bin: usize) -> (&[[i16; 2]], f32) {
        let place = (idx * self.n_blocks + block) * self.n_bins + bin - self.first_bin;
        (&self.cells[place * BLOCK..(place + 1) * BLOCK], self.scales[place])
    }
}
