//! Thinned spectra of all channels over chosen minutes, held small.
//!
//! Takes blocks of all channels, gives complex spectra on a [`Grid`], Hann-windowed. Sixteen frames of a bin share a scale
//! and are held as pairs of 16-bit integers: 4.25 bytes a value, 90 dB below the loudest of the sixteen. A frame never
//! spans two stretches.

use std::ops::Range;
use std::sync::Arc;

use rayon::prelude::*;
use rustfft::num_complex::Complex32;
use rustfft::{Fft, FftPlanner};

use super::grid::Grid;
use crate::dsp::Frames;
use crate::dsp::lanes::{Isa, tapered, to_whole};
use crate::dsp::window::hann;
use crate::unit::Span;

/// Frames that share a scale.
pub const BLOCK: usize = 16;

/// Transforms the frames of one channel.
pub struct Thinner {
    frames: Frames,
    n_to_skip: usize,
}

/// What the thinners of all channels share.
///
/// Even samples are transformed as real parts and odd ones as imaginary parts; only the kept bins are put together from both.
#[derive(Clone)]
pub struct Transform {
    isa: Isa,
    grid: Grid,
    window: Vec<f32>,
    forward: Arc<dyn Fft<f32>>,
    kept: Vec<Kept>,
}

/// A kept bin: the places of the half transform that it is made of, and `-j/2 exp(-2 pi j k/n)`.
#[derive(Clone, Copy)]
struct Kept {
    place: usize,
    mirror: usize,
    turn: Complex32,
}

impl Kept {
    #[expect(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        reason = "bins are small numbers, turns fit f32"
    )]
    fn new(bin: usize, n: usize) -> Self {
        let (half, angle) = (n / 2, std::f64::consts::TAU * bin as f64 / n as f64);
        let turn = Complex32::new(-0.5 * angle.sin() as f32, -0.5 * angle.cos() as f32);
        Self { place: bin % half, mirror: (half - bin) % half, turn }
    }

    fn of(self, half: &[Complex32]) -> Complex32 {
        let (here, there) = (half[self.place], half[self.mirror].conj());
        (here + there) * 0.5 + self.turn * (here - there)
    }
}

impl Transform {
    /// The windowed transform of a grid.
    #[expect(clippy::cast_possible_truncation, reason = "values of a window fit f32")]
    pub fn new(grid: Grid) -> Self {
        let n = grid.frame();
        Self {
            isa: Isa::best(),
            window: (0..n).map(|place| hann(place, n) as f32).collect(),
            forward: FftPlanner::<f32>::new().plan_fft_forward(n / 2),
            kept: grid.bins().iter().map(|&bin| Kept::new(bin, n)).collect(),
            grid,
        }
    }

    /// The grid.
    pub fn grid(&self) -> &Grid {
        &self.grid
    }
}

impl Thinner {
    /// A thinner at the start of a stretch.
    pub fn new(grid: &Grid) -> Self {
        let history = grid.frame() - grid.hop();
        Self { frames: Frames::new(history, grid.hop()), n_to_skip: history / grid.hop() }
    }

    /// Takes samples; appends the kept bins of every frame that is full, frame by frame.
    ///
    /// # Panics
    ///
    /// If the transform is of another grid.
    pub fn push(&mut self, transform: &Transform, samples: &[f32], bins: &mut Vec<Complex32>) {
        let Self { frames, n_to_skip } = self;
        let mut half = vec![Complex32::default(); transform.grid.frame() / 2];
        let mut scratch = vec![Complex32::default(); transform.forward.get_inplace_scratch_len()];
        frames.push(samples, |_, frame| {
            // The first frames reach back before the stretch.
            if *n_to_skip > 0 {
                *n_to_skip -= 1;
                return;
            }
            let (samples, weights) =
                (frame.as_chunks::<2>().0, transform.window.as_chunks::<2>().0);
            tapered(transform.isa, samples, weights, &mut half);
            transform.forward.process_with_scratch(&mut half, &mut scratch);
            bins.extend(transform.kept.iter().map(|kept| kept.of(&half)));
        });
    }
}

/// Up to [`BLOCK`] frames of one channel.
#[derive(Clone, Debug)]
struct Held {
    /// Bins, in each the frames.
    cells: Vec<[i16; 2]>,
    /// Bins.
    scales: Vec<f32>,
}

impl Held {
    /// Holds a block by itself: what grows as one piece leaves holes behind and room unused. `bins` are frame by frame.
    fn new(isa: Isa, bins: &[Complex32], n_bins: usize) -> Self {
        let (mut cells, mut scales) =
            (Vec::with_capacity(BLOCK * n_bins), Vec::with_capacity(n_bins));
        to_whole::<BLOCK>(isa, bins, n_bins, &mut cells, &mut scales);
        Self { cells, scales }
    }
}

/// Gathers the spectra of all channels, or of those that are wanted.
pub struct SpectrogramMeter {
    transform: Transform,
    channels: Vec<(Thinner, Vec<Complex32>, Vec<Held>)>,
    is_wanted: Vec<bool>,
    stretches: Vec<(usize, f64)>,
    n_frames: usize,
}

impl SpectrogramMeter {
    /// A meter for `n_channels`; a stretch has to be begun.
    pub fn new(grid: Grid, n_channels: usize) -> Self {
        Self::of(grid, vec![true; n_channels])
    }

    /// The same, which holds nothing of the channels that are not wanted: their spectra must not be asked for.
    pub fn of(grid: Grid, is_wanted: Vec<bool>) -> Self {
        let channel = |_: &bool| (Thinner::new(&grid), Vec::new(), Vec::new());
        let channels = is_wanted.iter().map(channel).collect();
        let transform = Transform::new(grid);
        Self { transform, channels, is_wanted, stretches: Vec::new(), n_frames: 0 }
    }

    /// Begins a stretch at a time in the session: what comes does not adjoin what came.
    pub fn begin(&mut self, start_s: f64) {
        for (thinner, _, _) in &mut self.channels {
            *thinner = Thinner::new(&self.transform.grid);
        }
        self.stretches.push((self.n_frames, start_s));
    }

    /// The next samples of all channels.
    ///
    /// # Panics
    ///
    /// If there is not one plane for each channel, or no stretch was begun.
    pub fn push(&mut self, planes: &[&[f32]]) {
        assert_eq!(planes.len(), self.channels.len(), "one plane for each channel");
        assert!(!self.stretches.is_empty(), "a stretch was begun");
        let transform = &self.transform;
        let isa = Isa::best();
        let n_bins = transform.grid.bins().len();
        let channels = self.channels.par_iter_mut().zip(planes).zip(&self.is_wanted);
        let wanted = channels.filter(|(_, is_wanted)| **is_wanted);
        wanted.for_each(|(((thinner, waiting, held), plane), _)| {
            thinner.push(transform, plane, waiting);
            let n_full = waiting.len() / (BLOCK * n_bins);
            let full = waiting.chunks_exact(BLOCK * n_bins);
            held.extend(full.map(|block| Held::new(isa, block, n_bins)));
            waiting.drain(..n_full * BLOCK * n_bins);
        });
        if let Some(first) = self.is_wanted.iter().position(|is_wanted| *is_wanted) {
            let (_, waiting, held) = &self.channels[first];
            self.n_frames = held.len() * BLOCK + waiting.len() / n_bins;
        }
    }

    /// The spectra.
    pub fn finish(self) -> Spectrogram {
        let n_bins = self.transform.grid.bins().len();
        let isa = Isa::best();
        let held = self.channels.into_par_iter().map(|(_, waiting, mut held)| {
            if !waiting.is_empty() {
                held.push(Held::new(isa, &waiting, n_bins));
            }
            held
        });
        Spectrogram {
            channels: held.collect(),
            grid: self.transform.grid,
            stretches: self.stretches,
            n_frames: self.n_frames,
            left_out: vec![false; self.n_frames],
        }
    }
}

/// Values of one bin, frame by frame.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Series {
    /// Real parts.
    pub re: Vec<f32>,
    /// Imaginary parts.
    pub im: Vec<f32>,
}

impl Series {
    /// Frames without sound.
    pub fn silent(n_frames: usize) -> Self {
        Self { re: vec![0.0; n_frames], im: vec![0.0; n_frames] }
    }

    /// Frames.
    pub fn len(&self) -> usize {
        self.re.len()
    }

    /// Power of all frames.
    pub fn power(&self) -> f64 {
        self.re.iter().zip(&self.im).map(|(re, im)| f64::from(re * re + im * im)).sum()
    }

    /// Sets some frames to 0.
    pub fn silence(&mut self, which: &[bool]) {
        for ((re, im), _) in self.re.iter_mut().zip(&mut self.im).zip(which).filter(|(_, is)| **is)
        {
            (*re, *im) = (0.0, 0.0);
        }
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.re.is_empty()
    }
}

/// Thinned spectra of all channels.
pub struct Spectrogram {
    grid: Grid,
    /// Blocks of frames of each channel.
    channels: Vec<Vec<Held>>,
    stretches: Vec<(usize, f64)>,
    n_frames: usize,
    left_out: Vec<bool>,
}

impl Spectrogram {
    /// The grid.
    pub fn grid(&self) -> &Grid {
        &self.grid
    }

    /// Channels.
    pub fn n_channels(&self) -> usize {
        self.channels.len()
    }

    /// Frames of each channel.
    pub fn n_frames(&self) -> usize {
        self.n_frames
    }

    /// First frame and begin in the session, in seconds, of each stretch.
    pub fn stretches(&self) -> &[(usize, f64)] {
        &self.stretches
    }

    /// Frames that hold a part of any of some spans of the session.
    #[expect(clippy::cast_precision_loss, reason = "a count of frames is far below 2^52")]
    pub fn frames_within(&self, spans: &[Span]) -> Vec<usize> {
        let (hop_s, frame_s) =
            (self.grid.hop_s(), self.grid.frame() as f64 / f64::from(self.grid.rate_hz()));
        let mut within = Vec::new();
        for (idx, &(first, start_s)) in self.stretches.iter().enumerate() {
            let end = self.stretches.get(idx + 1).map_or(self.n_frames, |next| next.0);
            within.extend((first..end).filter(|frame| {
                let from_s = start_s + (frame - first) as f64 * hop_s;
                spans.iter().any(|span| span.start_s < from_s + frame_s && span.end_s > from_s)
            }));
        }
        within
    }

    /// Marks frames as spoilt: separations and ways leave them out.
    pub fn leave_out(&mut self, frames: &[usize]) {
        for &frame in frames {
            self.left_out[frame] = true;
        }
    }

    /// Whether each frame is left out.
    pub fn left_out(&self) -> &[bool] {
        &self.left_out
    }

    /// All frames of a channel in a kept bin, on their own.
    pub fn series(&self, channel: usize, bin: usize) -> Series {
        let mut series = Series::silent(self.n_frames);
        self.read(channel, bin, &mut series.re, &mut series.im);
        series
    }

    /// All frames of a channel in a kept bin.
    ///
    /// # Panics
    ///
    /// If the parts are not as long as there are frames.
    pub fn read(&self, channel: usize, bin: usize, re: &mut [f32], im: &mut [f32]) {
        assert_eq!((re.len(), im.len()), (self.n_frames, self.n_frames), "a place for each frame");
        let blocks = re.chunks_mut(BLOCK).zip(im.chunks_mut(BLOCK)).enumerate();
        for (block, (re, im)) in blocks {
            self.unpack(channel, block, bin, re, im);
        }
    }

    /// All frames of a channel in kept bins that are neighbours.
    pub fn neighbours(&self, channel: usize, bins: Range<usize>) -> Vec<Series> {
        let mut read: Vec<Series> = bins.clone().map(|_| Series::silent(self.n_frames)).collect();
        for block in 0..self.n_frames.div_ceil(BLOCK) {
            let frames = block * BLOCK..((block + 1) * BLOCK).min(self.n_frames);
            for (bin, series) in bins.clone().zip(&mut read) {
                let Series { re, im } = series;
                self.unpack(channel, block, bin, &mut re[frames.clone()], &mut im[frames.clone()]);
            }
        }
        read
    }

    fn unpack(&self, channel: usize, block: usize, bin: usize, re: &mut [f32], im: &mut [f32]) {
        let (cells, scale) = self.block(channel, block, bin);
        for ((re, im), cell) in re.iter_mut().zip(im).zip(cells) {
            *re = f32::from(cell[0]) * scale;
            *im = f32::from(cell[1]) * scale;
        }
    }

    /// Some neighbouring frames of a channel in a kept bin: whole numbers, and what they are to be multiplied by.
    ///
    /// Block `n` begins with frame `16 n`; frames after the last are 0.
    pub fn block(&self, channel: usize, block: usize, bin: usize) -> (&[[i16; 2]; BLOCK], f32) {
        let held = &self.channels[channel][block];
        (&held.cells.as_chunks().0[bin], held.scales[bin])
    }

    /// Power of all frames of a channel in each kept bin.
    pub fn bin_powers(&self, channel: usize) -> Vec<f64> {
        let mut powers = vec![0.0; self.grid.bins().len()];
        for block in 0..self.channels[channel].len() {
            for (bin, power) in powers.iter_mut().enumerate() {
                let (cells, scale) = self.block(channel, block, bin);
                *power += f64::from(scale).powi(2) * sum_of_squares(cells);
            }
        }
        powers
    }

    /// Mean power of the kept bins of each band, band by band, in each the frames; 0 where a band keeps no bin.
    pub fn band_power(&self, channel: usize) -> Vec<Vec<f32>> {
        let (mut re, mut im) = (vec![0.0; self.n_frames], vec![0.0; self.n_frames]);
        let mut power = |band: usize| {
            let mut sum = vec![0.0f32; self.n_frames];
            let bins = self.grid.band(band);
            for bin in bins.clone() {
                self.read(channel, bin, &mut re, &mut im);
                for ((sum, re), im) in sum.iter_mut().zip(&re).zip(&im) {
                    *sum += re * re + im * im;
                }
            }
            #[expect(clippy::cast_precision_loss, reason = "a band keeps a few bins")]
            let n = bins.len().max(1) as f32;
            sum.iter_mut().for_each(|sum| *sum /= n);
            sum
        };
        (0..super::grid::N_BANDS).map(&mut power).collect()
    }
}

/// Exact: squares of 16 bits are summed as whole numbers.
#[expect(clippy::cast_precision_loss, reason = "32 squares take 35 bits")]
fn sum_of_squares(cells: &[[i16; 2]; BLOCK]) -> f64 {
    let square = |x: i16| u32::from(x.unsigned_abs()).pow(2);
    cells.iter().map(|[re, im]| u64::from(square(*re) + square(*im))).sum::<u64>() as f64
}
