//! Spectra of tapered frames.
//!
//! Takes frames of samples, gives their spectra through a raised cosine. Never allocates once its workspace has been used.

use std::sync::Arc;

use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};

use crate::dsp::window::hann;

/// Window and transform of frames of one length.
pub(super) struct Taper {
    window: Vec<f32>,
    forward: Arc<dyn RealToComplex<f32>>,
}

/// What one thread needs to transform.
#[derive(Default)]
pub(super) struct Workspace {
    input: Vec<f32>,
    spectrum: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
}

impl Taper {
    /// For frames of a length.
    #[expect(clippy::cast_possible_truncation, reason = "the window's values fit f32")]
    pub(super) fn new(frame: usize) -> Self {
        Self {
            window: (0..frame).map(|place| hann(place, frame) as f32).collect(),
            forward: RealFftPlanner::<f32>::new().plan_fft_forward(frame),
        }
    }

    /// Samples in a frame.
    pub(super) fn length(&self) -> usize {
        self.window.len()
    }

    /// Spectrum of a frame.
    pub(super) fn spectrum<'a>(
        &self,
        frame: &[f32],
        workspace: &'a mut Workspace,
    ) -> &'a [Complex<f32>] {
        let Workspace { input, spectrum, scratch } = workspace;
        input.clear();
        input.extend(frame.iter().zip(&self.window).map(|(sample, weight)| sample * weight));
        spectrum.resize(self.forward.complex_len(), Complex::default());
        scratch.resize(self.forward.get_scratch_len(), Complex::default());
        self.forward
            .process_with_scratch(input, spectrum, scratch)
            .expect("the buffers have the plan's lengths");
        spectrum
    }
}
