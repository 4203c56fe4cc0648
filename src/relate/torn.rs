//! # Change of way
//!
//! When a channel's way through the desk was changed within a section: its tone or its pan.
//!
//! - **Formula:** with what all channels together leave of a side of the mix in a bin, `r(t)`, and a raw channel `x(t)`: for each border
//!   `c` between blocks `|S_<|^2/W_< + |S_>|^2/W_> - |S|^2/W`, `S = sum r x*`, `W = sum |x|^2` before it, behind it and over all; summed over
//!   bins and sides. The way was changed at the `c` of the largest sum, if that is a fiftieth of what the channel gives, three tenths
//!   of all that is left, and three times what chance makes
//! - **Unit:** s
//! - **Range:** within the section
//! - **Source:** the likelihood ratio for one change of a regression (R. Quandt, JASA 53, 1958, from memory); bounds are own trials on
//!   simulated desks, where nothing but changes and parts that were not recorded made more than a 250th; the latter made up to a
//!   quarter of what is left, changes half of it
//! - **Window:** a section of up to two minutes, blocks of 0.7 s
//! - **No value:** none was changed, or too little to tell
//! - **Misleads when:** it was changed more than once: the largest change is told

use realfft::num_complex::Complex32;

use super::shares::{Powers, Slot};
use super::spectrogram::BLOCK;

/// What a change explains, re what the channel gives, re the whole mix, and re all that is left of it: a part that was not recorded comes
/// and goes in many microphones, and explains a quarter of it in each at the most.
const OF_CHANNEL: f64 = 0.02;
const OF_MIX: f64 = 0.003;
const OF_REST: f64 = 0.3;

/// What it explains, re what it would by chance.
const OVER_CHANCE: f64 = 3.0;

/// A part more explains by chance as much as this many frames leave: neighbouring frames overlap.
const BY_CHANCE: f64 = 2.0;

/// Least part of a channel's power that tells of its way.
const LEAST_PART: f64 = 1e-6;

/// What changes at the begin of each block explain, by channels: block by block, in each the channels.
#[derive(Clone, Debug)]
pub struct Changes {
    n: usize,
    explained: Vec<f64>,
}

impl Changes {
    /// Nothing of `n` channels.
    pub fn none(n: usize, n_blocks: usize) -> Self {
        Self { n, explained: vec![0.0; n * n_blocks] }
    }

    /// Adds others of the same channels and blocks.
    pub fn add(&mut self, others: &Self) {
        self.explained.iter_mut().zip(&others.explained).for_each(|(sum, one)| *sum += one);
    }

    /// Adds what a side of a bin says. `shared` holds block by block for each channel the sum of what is left times the conjugate of the
    /// channel, `powers` its power.
    pub fn add_bin(&mut self, shared: &[Complex32], powers: &[f32], weight: f64) {
        let n = self.n.max(1);
        let mut all = vec![(Complex32::default(), 0.0f64); n];
        for (shared, powers) in shared.chunks_exact(n).zip(powers.chunks_exact(n)) {
            for ((all, shared), &power) in all.iter_mut().zip(shared).zip(powers) {
                all.0 += shared;
                all.1 += f64::from(power);
            }
        }
        let part = |sum: Complex32, power: f64, all: f64| {
            if power > LEAST_PART * all { f64::from(sum.norm_sqr()) / power } else { 0.0 }
        };
        let whole: Vec<f64> = all.iter().map(|&(sum, power)| part(sum, power, power)).collect();
        let mut before = vec![(Complex32::default(), 0.0f64); n];
        let blocks = shared.chunks_exact(n).zip(powers.chunks_exact(n));
        for (explained, (shared, powers)) in self.explained.chunks_exact_mut(n).zip(blocks) {
            for k in 0..n {
                let ((sum, power), all) = (before[k], all[k]);
                let behind = part(all.0 - sum, (all.1 - power).max(0.0), all.1);
                explained[k] += weight * (part(sum, power, all.1) + behind - whole[k]).max(0.0);
                before[k] = (sum + shared[k], power + f64::from(powers[k]));
            }
        }
    }

    /// The block with which a change of a channel explains most, and how much that is.
    fn largest(&self, k: usize) -> Option<(usize, f64)> {
        let all = self.explained.iter().copied().skip(k).step_by(self.n.max(1)).enumerate();
        all.max_by(|a, b| a.1.total_cmp(&b.1))
    }
}

/// For each channel the frame with which its way changes, if it does.
#[expect(clippy::cast_precision_loss, reason = "a section has some thousand frames")]
pub fn torn(slots: &[Slot], changes: &Changes) -> Vec<Option<usize>> {
    // Powers of slots are means of frames.
    let all = |of: &dyn Fn(&Slot) -> [Powers; 2]| -> f64 {
        let n_frames = |slot: &Slot| (slot.frames[1] - slot.frames[0]) as f64;
        let power =
            |slot: &Slot| of(slot).as_flattened().iter().map(|&x| f64::from(x)).sum::<f64>();
        slots.iter().map(|slot| n_frames(slot) * power(slot)).sum()
    };
    let n_frames = slots.last().map_or(0, |slot| slot.frames[1]);
    let (main, rest) = (all(&|slot| slot.main), all(&|slot| slot.rest));
    let by_chance = BY_CHANCE * rest / n_frames.max(1) as f64;
    let change = |k: usize| {
        let (block, explained) = changes.largest(k)?;
        let is_one = explained > OVER_CHANCE * by_chance
            && explained > OF_CHANNEL * all(&|slot| slot.given[k])
            && explained > OF_MIX * main
            && explained > OF_REST * rest;
        is_one.then_some(block * BLOCK)
    };
    (0..changes.n).map(change).collect()
}
