//! What each channel gives to the main mix, second by second and third-octave by third-octave, and what is left.
//!
//! Takes spectra and a mix that was read, gives powers as they stand in the mix. Bands that keep only some of their bins stand for
//! all of them. Never gives a level in dB.

use rayon::prelude::*;
use realfft::num_complex::Complex32;

use super::blend::Blend;
use super::colour::{Patch, SIDES};
use super::grid::N_BANDS;
use super::spectrogram::{BLOCK, Spectrogram};

/// Powers by third-octave.
pub type Powers = [f32; N_BANDS];

/// Length of a slot, in seconds.
pub const SLOT_S: f64 = 1.0;

/// Powers of a slot, mean of its frames.
#[derive(Clone, Debug, PartialEq)]
pub struct Slot {
    /// Begin, in seconds of the session.
    pub start_s: f64,
    /// First frame and the frame after the last.
    pub frames: [usize; 2],
    /// Both sides of the mix.
    pub main: [Powers; SIDES],
    /// What no channel explains, on both sides.
    pub rest: [Powers; SIDES],
    /// What is left of both sides without lead voices and effects.
    pub backing: [Powers; SIDES],
    /// Raw channels.
    pub raw: Vec<Powers>,
    /// What each channel gives to either side.
    pub given: Vec<[Powers; SIDES]>,
    /// What each group gives to both sides together, its members added as they are, not as powers.
    pub together: Vec<Powers>,
}

impl Slot {
    fn new(start_s: f64, first: usize, n: usize, n_groups: usize) -> Self {
        let none = [0.0; N_BANDS];
        Self {
            start_s,
            frames: [first; 2],
            main: [none; SIDES],
            rest: [none; SIDES],
            backing: [none; SIDES],
            raw: vec![none; n],
            given: vec![[none; SIDES]; n],
            together: vec![none; n_groups],
        }
    }
}

/// Powers of all slots. `groups` holds places of channels that add up as one; `gains` the gains of each channel, frame by frame.
///
/// A slot begins with each whole second after the begin of its stretch, and holds the frames whose middles lie in it.
pub fn shares(
    held: &Spectrogram,
    patch: &Patch,
    blend: &Blend,
    gains: &[Vec<f32>],
    groups: &[Vec<usize>],
) -> Vec<Slot> {
    let mut slots = slots(held, patch.channels.len(), groups.len());
    let colours = blend.colours.each_ref().map(|bins| bins.iter().map(|bin| single(bin)).collect());
    let leads = with_leads(patch, groups);
    let reader = Reader { held, patch, colours: &colours, gains, groups, leads };
    slots.par_iter_mut().for_each(|slot| reader.fill(slot));
    slots
}

/// Places of lead voices and effects, and of what carries the signal of one: that goes with it.
pub fn with_leads(patch: &Patch, groups: &[Vec<usize>]) -> Vec<usize> {
    let goes = |k: &usize| {
        let with = groups.iter().find(|group| group.contains(k));
        patch.leads.iter().any(|lead| lead == k || with.is_some_and(|group| group.contains(lead)))
    };
    (0..patch.channels.len()).filter(goes).collect()
}

/// The colours of a bin in the width in which spectra are held.
#[expect(clippy::cast_possible_truncation, reason = "spectra are held as f32")]
pub(super) fn single(bin: &[realfft::num_complex::Complex64]) -> Vec<Complex32> {
    bin.iter().map(|e| Complex32::new(e.re as f32, e.im as f32)).collect()
}

/// Slots without powers.
#[expect(clippy::cast_precision_loss, reason = "counts of frames are far below 2^52")]
fn slots(held: &Spectrogram, n: usize, n_groups: usize) -> Vec<Slot> {
    let mut slots: Vec<Slot> = Vec::new();
    let stretches = held.stretches();
    let (hop_s, half_s) = (held.grid().hop_s(), held.grid().frame() as f64 / 2.0);
    let half_s = half_s / f64::from(held.grid().rate_hz());
    for (idx, &(first, start_s)) in stretches.iter().enumerate() {
        let end = stretches.get(idx + 1).map_or(held.n_frames(), |next| next.0);
        let mut last = None;
        for frame in first..end {
            let slot = (((frame - first) as f64 * hop_s + half_s) / SLOT_S).floor();
            if last != Some(slot.to_bits()) {
                last = Some(slot.to_bits());
                slots.push(Slot::new(start_s + slot * SLOT_S, frame, n, n_groups));
            }
            if let Some(slot) = slots.last_mut() {
                slot.frames[1] = frame + 1;
            }
        }
    }
    slots
}

struct Reader<'a> {
    held: &'a Spectrogram,
    patch: &'a Patch,
    colours: &'a [Vec<Vec<Complex32>>; SIDES],
    gains: &'a [Vec<f32>],
    groups: &'a [Vec<usize>],
    leads: Vec<usize>,
}

impl Reader<'_> {
    #[expect(clippy::cast_precision_loss, reason = "a few frames and bins")]
    fn fill(&self, slot: &mut Slot) {
        let n = self.patch.channels.len();
        let n_frames = slot.frames[1] - slot.frames[0];
        let mut raw = vec![Complex32::default(); n_frames];
        let mut left = raw.clone();
        let mut given: Vec<Vec<Complex32>> = vec![vec![Complex32::default(); n_frames]; n];
        for band in 0..N_BANDS {
            let bins = self.held.grid().band(band);
            let stands_for = self.held.grid().n_in_band(band) as f32 / bins.len().max(1) as f32;
            let share = stands_for / n_frames.max(1) as f32;
            for bin in bins {
                for k in 0..n {
                    self.read(self.patch.channels[k], bin, slot.frames, &mut raw);
                    slot.raw[k][band] += share * power(&raw);
                    let gains = &self.gains[k][slot.frames[0]..slot.frames[1]];
                    let moved = given[k].iter_mut().zip(&raw).zip(gains);
                    moved.for_each(|((given, raw), gain)| *given = raw * gain);
                    let moved = share * power(&given[k]);
                    for side in 0..SIDES {
                        slot.given[k][side][band] += moved * self.colours[side][bin][k].norm_sqr();
                    }
                }
                for side in 0..SIDES {
                    let colours = &self.colours[side][bin];
                    self.read(self.patch.main[side], bin, slot.frames, &mut raw);
                    slot.main[side][band] += share * power(&raw);
                    left.copy_from_slice(&raw);
                    for &lead in &self.leads {
                        take(&mut left, &given[lead], colours[lead]);
                    }
                    slot.backing[side][band] += share * power(&left);
                    given.iter().zip(colours).for_each(|(given, &colour)| {
                        take(&mut raw, given, colour);
                    });
                    slot.rest[side][band] += share * power(&raw);
                    for (group, together) in self.groups.iter().zip(&mut slot.together) {
                        raw.fill(Complex32::default());
                        for &k in group {
                            let members = raw.iter_mut().zip(&given[k]);
                            members.for_each(|(sum, given)| *sum += colours[k] * given);
                        }
                        together[band] += share * power(&raw);
                    }
                }
            }
        }
    }

    fn read(&self, channel: usize, bin: usize, frames: [usize; 2], values: &mut [Complex32]) {
        let mut values = values.iter_mut();
        for block in frames[0] / BLOCK..frames[1].div_ceil(BLOCK) {
            let (cells, scale) = self.held.block(channel, block, bin);
            let first = frames[0].saturating_sub(block * BLOCK).min(BLOCK);
            let end = (frames[1] - block * BLOCK).min(BLOCK);
            for (cell, value) in cells[first..end].iter().zip(values.by_ref()) {
                *value = Complex32::new(f32::from(cell[0]), f32::from(cell[1])) * scale;
            }
        }
    }
}

/// Takes what a channel gives to a side from values.
fn take(values: &mut [Complex32], given: &[Complex32], colour: Complex32) {
    values.iter_mut().zip(given).for_each(|(rest, given)| *rest -= colour * given);
}

fn power(values: &[Complex32]) -> f32 {
    values.iter().map(|x| x.norm_sqr()).sum()
}
