//! Held values of some bins, copied out of a spectrogram eight channels at a time.
//!
//! Takes channels, bins and blocks of frames, gives the held whole numbers bin by bin. In the spectrogram the same bin of two channels
//! lies so far apart that a reader who goes from channel to channel waits for the memory each time; neighbouring bins come at once.
//! Never changes a value.

use super::spectrogram::{BLOCK, Spectrogram};
use crate::dsp::lanes::{Frame, LANES};

/// Whole numbers of eight channels in a bin, channel by channel in each the frames of a block, and what they are to be multiplied by.
#[derive(Clone)]
pub(super) struct Octet {
    pub(super) cells: [[[i16; 2]; BLOCK]; LANES],
    pub(super) scales: Frame,
}

/// Values of some channels, blocks and bins.
pub(super) struct Staged {
    channels: Vec<usize>,
    n_bins: usize,
    /// Block by block, in each the bins, in each the channels by eights. Behind the last channel all is 0.
    octets: Vec<Octet>,
}

impl Staged {
    /// Nothing of some channels.
    pub(super) fn new(channels: Vec<usize>) -> Self {
        Self { channels, n_bins: 0, octets: Vec::new() }
    }

    /// Eights of channels.
    pub(super) fn n_octets(&self) -> usize {
        self.channels.len().div_ceil(LANES)
    }

    /// Copies; what was held before is gone.
    pub(super) fn fill(&mut self, held: &Spectrogram, blocks: &[usize], bins: &[usize]) {
        self.n_bins = bins.len();
        let n_octets = self.n_octets();
        let silence = Octet { cells: [[[0; 2]; BLOCK]; LANES], scales: [0.0; LANES] };
        self.octets.resize(blocks.len() * bins.len() * n_octets, silence);
        for (idx, &channel) in self.channels.iter().enumerate() {
            let (octet, lane) = (idx / LANES, idx % LANES);
            for (of_block, &block) in
                self.octets.chunks_exact_mut(bins.len() * n_octets).zip(blocks)
            {
                for (of_bin, &bin) in of_block.chunks_exact_mut(n_octets).zip(bins) {
                    let (cells, scale) = held.block(channel, block, bin);
                    // Copied as what it is: a slice is copied by a call.
                    of_bin[octet].cells[lane] = *cells;
                    of_bin[octet].scales[lane] = scale;
                }
            }
        }
    }

    /// All channels in the `block`th block and the `bin`th bin of those that were copied.
    pub(super) fn of(&self, block: usize, bin: usize) -> &[Octet] {
        let n_octets = self.n_octets();
        &self.octets[(block * self.n_bins + bin) * n_octets..][..n_octets]
    }
}
