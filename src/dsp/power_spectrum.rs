//! Power spectra of tapered rows of real samples.
//!
//! Takes rows of one length, gives the power of each bin from 0 Hz to half the rate. Even samples are transformed as real parts and odd
//! ones as imaginary parts, which halves the work. Never allocates once it is made.

use std::sync::Arc;

use rustfft::num_complex::Complex32;
use rustfft::{Fft, FftPlanner};

use super::lanes::{Isa, Turns, power_of_pairs, tapered};

/// Transforms rows of one length.
#[derive(Clone)]
pub struct PowerSpectrum {
    isa: Isa,
    taper: Arc<[f32]>,
    /// Of half the length.
    forward: Arc<dyn Fft<f32>>,
    turns: Arc<Turns>,
    pairs: Vec<Complex32>,
    scratch: Vec<Complex32>,
    power: Vec<f32>,
}

impl PowerSpectrum {
    /// For rows as long as the taper, whose samples are multiplied by it first.
    ///
    /// # Panics
    ///
    /// If the length is 0 or no multiple of 4.
    pub fn new(taper: &[f32]) -> Self {
        let n = taper.len();
        let forward = FftPlanner::new().plan_fft_forward(n / 2);
        Self {
            isa: Isa::best(),
            taper: taper.into(),
            turns: Arc::new(Turns::new(n)),
            pairs: vec![Complex32::default(); n / 2],
            scratch: vec![Complex32::default(); forward.get_inplace_scratch_len()],
            power: vec![0.0; n / 2 + 1],
            forward,
        }
    }

    /// Samples in a row.
    pub fn length(&self) -> usize {
        self.taper.len()
    }

    /// Power of each bin of the last row; 0 before there was one.
    pub fn power(&self) -> &[f32] {
        &self.power
    }

    /// Power of each bin of a row: the square of the size of `sum x[n] w[n] exp(-2 pi j k n / N)`.
    ///
    /// # Panics
    ///
    /// If the row has another length.
    pub fn of(&mut self, samples: &[f32]) -> &[f32] {
        assert_eq!(samples.len(), self.length(), "rows of one length");
        let (samples, taper) = (samples.as_chunks::<2>().0, self.taper.as_chunks::<2>().0);
        tapered(self.isa, samples, taper, &mut self.pairs);
        self.forward.process_with_scratch(&mut self.pairs, &mut self.scratch);
        power_of_pairs(self.isa, &self.pairs, &self.turns, &mut self.power);
        &self.power
    }
}
