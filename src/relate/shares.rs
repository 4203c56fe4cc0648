//! What each channel gives to the main mix, second by second and third-octave by third-octave, and what is left.
//!
//! Takes spectra and a mix that was read, gives powers as they stand in the mix, and what changes of a channel's way would explain of what
//! is left: both need it bin by bin, and it is nowhere held. Bands that keep only some of their bins stand for all of them. Never
//! gives a level in dB.

use rayon::prelude::*;
use realfft::num_complex::Complex32;

use super::blend::Blend;
use super::colour::{Patch, SIDES};
use super::grid::N_BANDS;
use super::spectrogram::{BLOCK, Spectrogram};
use super::staged::Staged;
use super::torn::Changes;
use crate::dsp::lanes::{
    Isa, LANES, Parts, add_part_powers, move_parts, part_product, take_parts, unpack_parts,
};

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

    fn put(&mut self, band: usize, sums: &Sums) {
        let n = self.raw.len();
        let (sides, of_channels) = sums.split_at(RAW);
        for side in 0..SIDES {
            self.main[side][band] = sides[side];
            self.rest[side][band] = sides[REST + side];
            self.backing[side][band] = sides[BACKING + side];
        }
        self.raw.iter_mut().zip(of_channels).for_each(|(raw, sum)| raw[band] = *sum);
        for (given, sums) in self.given.iter_mut().zip(of_channels[n..].as_chunks::<SIDES>().0) {
            given.iter_mut().zip(sums).for_each(|(side, sum)| side[band] = *sum);
        }
        let groups = self.together.iter_mut().zip(&of_channels[n + SIDES * n..]);
        groups.for_each(|(together, sum)| together[band] = *sum);
    }
}

/// Powers of all slots, and what changes explain. `groups` holds places of channels that add up as one; `gains` the gains of each channel,
/// frame by frame.
///
/// A slot begins with each whole second after the begin of its stretch, and holds the frames whose middles lie in it.
pub fn shares(
    held: &Spectrogram,
    patch: &Patch,
    blend: &Blend,
    gains: &[Vec<f32>],
    groups: &[Vec<usize>],
) -> (Vec<Slot>, Changes) {
    let n = patch.channels.len();
    let n_blocks = held.n_frames().div_ceil(BLOCK);
    let mut slots = slots(held, n, groups.len());
    let mut blocks = vec![[0.0; BLOCK]; n_blocks * n];
    for (k, gains) in gains.iter().enumerate() {
        let of_channel = blocks.iter_mut().skip(k).step_by(n);
        let filled = of_channel.zip(gains.chunks(BLOCK));
        filled.for_each(|(block, gains)| block[..gains.len()].copy_from_slice(gains));
    }
    let leads = with_leads(patch, groups);
    let reader = Reader { held, patch, blend, gains: &blocks, groups, leads };
    let bands: Vec<(Vec<Sums>, Changes)> =
        (0..N_BANDS).into_par_iter().map(|band| reader.band(band, &slots)).collect();
    let mut changes = Changes::none(n, n_blocks);
    for (band, (sums, of_band)) in bands.iter().enumerate() {
        slots.iter_mut().zip(sums).for_each(|(slot, sums)| slot.put(band, sums));
        changes.add(of_band);
    }
    (slots, changes)
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

/// Powers of a band: both sides of the mix, of the rest and of the backing, then each raw channel, what each gives to the left and to the
/// right, and each group.
type Sums = Vec<f32>;

/// Places of the sums.
const REST: usize = SIDES;
const BACKING: usize = 2 * SIDES;
const RAW: usize = 3 * SIDES;

struct Reader<'a> {
    held: &'a Spectrogram,
    patch: &'a Patch,
    blend: &'a Blend,
    /// Block by block the channels.
    gains: &'a [[f32; BLOCK]],
    groups: &'a [Vec<usize>],
    leads: Vec<usize>,
}

/// What is held of a band while it is read.
struct Band {
    /// Sums of a block, frame by frame.
    sums: Vec<[f32; BLOCK]>,
    heard: Vec<Parts<BLOCK>>,
    moved: Vec<Parts<BLOCK>>,
    /// Bin by bin, in each the sides, in each the colours of the channels.
    colours: Vec<[Vec<Complex32>; SIDES]>,
    /// Bin by bin, for each channel the powers of its colours.
    weights: Vec<Vec<[f32; SIDES]>>,
    /// Bin by bin, in each block by block the powers of the channels; side by side the same of what they share with what is left.
    powers: Vec<Vec<f32>>,
    shared: Vec<[Vec<Complex32>; SIDES]>,
}

impl Reader<'_> {
    /// Sums of all slots over a band, each a mean of its frames, and what changes explain in it.
    #[expect(clippy::cast_precision_loss, reason = "a few frames and bins")]
    fn band(&self, band: usize, slots: &[Slot]) -> (Vec<Sums>, Changes) {
        let n = self.patch.channels.len();
        let isa = Isa::best();
        let bins: Vec<usize> = self.held.grid().band(band).collect();
        let n_blocks = self.held.n_frames().div_ceil(BLOCK);
        let mut all = vec![vec![0.0; RAW + 3 * n + self.groups.len()]; slots.len()];
        let mut of_band = self.empty(&bins, n_blocks);
        let channels = self.patch.channels.iter().chain(&self.patch.main).copied().collect();
        let mut staged = Staged::new(channels);
        let mut slot = 0;
        for block in 0..n_blocks {
            staged.fill(self.held, &[block], &bins);
            of_band.sums.fill([0.0; BLOCK]);
            for bin in 0..bins.len() {
                let octets = staged.of(0, bin).iter().zip(of_band.heard.as_chunks_mut::<LANES>().0);
                octets.for_each(|(octet, parts)| {
                    unpack_parts(isa, &octet.cells, &octet.scales, parts);
                });
                self.add(isa, block, bin, &mut of_band);
            }
            let mut frame = block * BLOCK;
            while frame < ((block + 1) * BLOCK).min(self.held.n_frames()) {
                let end = slots[slot].frames[1].min((block + 1) * BLOCK);
                let frames = frame % BLOCK..frame % BLOCK + end - frame;
                for (sum, values) in all[slot].iter_mut().zip(&of_band.sums) {
                    *sum += values[frames.clone()].iter().sum::<f32>();
                }
                slot += usize::from(end == slots[slot].frames[1]);
                frame = end;
            }
        }
        let stands_for = self.held.grid().n_in_band(band) as f32 / bins.len().max(1) as f32;
        for (sums, slot) in all.iter_mut().zip(slots) {
            let share = stands_for / (slot.frames[1] - slot.frames[0]).max(1) as f32;
            sums.iter_mut().for_each(|sum| *sum *= share);
        }
        let mut changes = Changes::none(n, n_blocks);
        for (shared, powers) in of_band.shared.iter().zip(&of_band.powers) {
            shared.iter().for_each(|side| changes.add_bin(side, powers, f64::from(stands_for)));
        }
        (all, changes)
    }

    fn empty(&self, bins: &[usize], n_blocks: usize) -> Band {
        let n = self.patch.channels.len();
        let colours: Vec<[Vec<Complex32>; SIDES]> = bins
            .iter()
            .map(|&bin| self.blend.colours.each_ref().map(|side| single(&side[bin])))
            .collect();
        let weights = |[left, right]: &[Vec<Complex32>; SIDES]| {
            left.iter().zip(right).map(|(l, r)| [l.norm_sqr(), r.norm_sqr()]).collect()
        };
        Band {
            sums: vec![[0.0; BLOCK]; RAW + 3 * n + self.groups.len()],
            heard: vec![Parts::SILENT; (n + SIDES).next_multiple_of(LANES)],
            moved: vec![Parts::SILENT; n],
            weights: colours.iter().map(weights).collect(),
            colours,
            powers: vec![vec![0.0; n * n_blocks]; bins.len()],
            shared: vec![[0, 1].map(|_| vec![Complex32::default(); n * n_blocks]); bins.len()],
        }
    }

    /// Adds a bin of a block.
    fn add(&self, isa: Isa, block: usize, bin: usize, of_band: &mut Band) {
        let n = self.patch.channels.len();
        let Band { sums, heard, moved, colours, weights, powers, shared } = of_band;
        let (sides, of_channels) = sums.split_at_mut(RAW);
        let (raw, of_channels) = of_channels.split_at_mut(n);
        let (given, together) = of_channels.split_at_mut(2 * n);
        let here = block * n..(block + 1) * n;
        let powers = &mut powers[bin][here.clone()];
        for (k, given) in given.as_chunks_mut().0.iter_mut().enumerate() {
            powers[k] = add_part_powers(isa, &heard[k], &mut raw[k]);
            let gains = &self.gains[here.start + k];
            moved[k] = move_parts(isa, &heard[k], gains, weights[bin][k], given);
        }
        for (side, colours) in colours[bin].iter().enumerate() {
            let mut left = heard[n + side];
            add_part_powers(isa, &left, &mut sides[side]);
            for &lead in &self.leads {
                take_parts(isa, &mut left, &moved[lead..=lead], &colours[lead..=lead]);
            }
            add_part_powers(isa, &left, &mut sides[BACKING + side]);
            let mut left = heard[n + side];
            take_parts(isa, &mut left, moved, colours);
            add_part_powers(isa, &left, &mut sides[REST + side]);
            for (shared, heard) in shared[bin][side][here.clone()].iter_mut().zip(&*heard) {
                *shared = part_product(isa, &left, heard);
            }
            for (group, together) in self.groups.iter().zip(&mut *together) {
                let mut sum = Parts::SILENT;
                for &k in group {
                    take_parts(isa, &mut sum, &moved[k..=k], &colours[k..=k]);
                }
                add_part_powers(isa, &sum, together);
            }
        }
    }
}
