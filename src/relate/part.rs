//! # Part of a channel in a mix
//!
//! What a channel gave to both sides of a mix, as sound, from a mix that was read: so that it can be heard louder, softer or brighter.
//!
//! - **Formula:** spectra of frames of 85 ms, half overlapping (Hann), times the channel's colour, straight over frequency between kept bins, times
//!   its gain in the frame; frames add up again. A change adds the part times its factor less 1, bin by bin
//! - **Unit:** samples re full scale
//! - **Source:** overlap-add: J. B. Allen, "Short term spectral analysis, synthesis, and modification by discrete Fourier transform", IEEE
//!   Trans. ASSP 25(3), 1977
//! - **Window:** a passage; its first and last frame fade
//! - **Misleads when:** the mix is explained poorly, or channels carry one signal

use std::sync::Arc;

use realfft::num_complex::{Complex32, Complex64};
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};

use super::colour::{Colours, SIDES};
use super::grid::Grid;
use crate::dsp::window::hann;

/// A way from a channel to both sides of a mix.
pub struct Way {
    frame: usize,
    hop: usize,
    window: Vec<f32>,
    forward: Arc<dyn RealToComplex<f32>>,
    back: Arc<dyn ComplexToReal<f32>>,
    /// Factors of all bins, for each side.
    factors: [Vec<Complex32>; SIDES],
}

impl Way {
    /// The way of a channel whose colours in the kept bins of a grid are known. `change` gives for each frequency, in Hz, by what the part is
    /// to be multiplied in addition: 1 for the part as it was.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_precision_loss,
        reason = "factors fit f32, and bins are few"
    )]
    fn new(grid: &Grid, colours: [&[Complex64]; SIDES], change: impl Fn(f64) -> f64) -> Self {
        let frame = grid.frame();
        let bin_hz = f64::from(grid.rate_hz()) / frame as f64;
        let mut planner = RealFftPlanner::<f32>::new();
        let factors = colours.map(|colours| {
            (0..=frame / 2)
                .map(|bin| between(grid.bins(), colours, bin) * change(bin as f64 * bin_hz))
                .map(|factor| Complex32::new(factor.re as f32, factor.im as f32))
                .collect()
        });
        Self {
            frame,
            hop: grid.hop(),
            window: (0..frame).map(|place| hann(place, frame) as f32).collect(),
            forward: planner.plan_fft_forward(frame),
            back: planner.plan_fft_inverse(frame),
            factors,
        }
    }

    /// The same from the colours of a mix that was read, of the channel at a place in its patch.
    pub fn of(grid: &Grid, colours: &Colours, place: usize, change: impl Fn(f64) -> f64) -> Self {
        let of_side = |side: &Vec<Vec<Complex64>>| -> Vec<Complex64> {
            side.iter().map(|bin| bin[place]).collect()
        };
        let [left, right] = [of_side(&colours[0]), of_side(&colours[1])];
        Self::new(grid, [&left, &right], change)
    }

    /// Both sides of what a channel gave. `gains` holds its gain frame by frame, the first frame beginning with the samples.
    #[expect(clippy::cast_precision_loss, reason = "a frame has a few thousand samples")]
    pub fn part(&self, raw: &[f32], gains: &[f32]) -> [Vec<f32>; SIDES] {
        let mut sides = [vec![0.0f32; raw.len()], vec![0.0f32; raw.len()]];
        let mut input = self.forward.make_input_vec();
        let mut spectrum = self.forward.make_output_vec();
        let mut turned = self.back.make_input_vec();
        let mut output = self.back.make_output_vec();
        for (idx, gain) in gains.iter().enumerate() {
            let start = idx * self.hop;
            let Some(samples) = raw.get(start..start + self.frame) else { break };
            for ((input, sample), weight) in input.iter_mut().zip(samples).zip(&self.window) {
                *input = sample * weight;
            }
            if self.forward.process(&mut input, &mut spectrum).is_err() {
                break;
            }
            let scale = gain / self.frame as f32;
            for (side, factors) in sides.iter_mut().zip(&self.factors) {
                for ((turned, bin), factor) in turned.iter_mut().zip(&spectrum).zip(factors) {
                    *turned = bin * factor * scale;
                }
                // The lowest and the highest bin of a real signal are real.
                turned[0].im = 0.0;
                turned[self.frame / 2].im = 0.0;
                if self.back.process(&mut turned, &mut output).is_err() {
                    break;
                }
                for (sum, sample) in side[start..].iter_mut().zip(&output) {
                    *sum += sample;
                }
            }
        }
        sides
    }
}

/// A colour at any bin: straight between kept bins, and held beyond them.
#[expect(clippy::cast_precision_loss, reason = "bins are few")]
fn between(kept: &[usize], colours: &[Complex64], bin: usize) -> Complex64 {
    let after = kept.partition_point(|&one| one < bin);
    match (after.checked_sub(1), kept.get(after)) {
        (Some(before), Some(&next)) => {
            let part = (bin - kept[before]) as f64 / (next - kept[before]) as f64;
            colours[before] * (1.0 - part) + colours[after] * part
        }
        (Some(before), None) => colours[before],
        (None, Some(_)) => colours[after],
        (None, None) => Complex64::default(),
    }
}
