//! # Loudness
//!
//! How loud a channel is to the ear: momentary, short-term, integrated, and how far it moves.
//!
//! - **Formula:** `-0.691 + 10 lg z`, where `z` is the K-weighted mean square over 400 ms (momentary), 3 s (short-term), or
//!   the mean of the 400 ms blocks that pass two gates (integrated); the range is the 95th minus the 10th percentile of
//!   gated short-term values
//! - **Unit:** LUFS; LU for the range
//! - **Range:** about -70 to 0 LUFS; a full-scale 997 Hz sine in one channel reads -3.01
//! - **Source:** ITU-R BS.1770-5 annex 1, EBU Tech 3341, EBU Tech 3342
//! - **Window:** the whole recording; maxima are looked for every 10 ms, gated blocks begin every 100 ms
//! - **No value:** the recording is silent, shorter than a window, or never passes -70 LUFS
//! - **Misleads when:** most of a channel is spill: the gates keep whatever is within 10 LU of the mean

use super::Trace;
use super::level::{STEP_S, STEPS_PER_S};
use super::programme::Programme;
use crate::dsp::Group;
use crate::dsp::biquad::Biquad;
use crate::dsp::lanes::{Frame, Framer, Isa, LANES, State64, for_each_pack, weighted_energy};
use crate::dsp::steps::Steps;
use crate::dsp::weighting;
use crate::unit::Unmeasured;

/// Loudness of one channel, or of channels that sound together.
#[derive(Clone, Debug, PartialEq)]
pub struct Loudness {
    /// K-weighted mean square, in steps of 10 ms.
    pub k_power: Trace,
    /// Highest momentary loudness, in LUFS.
    pub momentary_max_lufs: Result<f64, Unmeasured>,
    /// Highest short-term loudness, in LUFS.
    pub short_term_max_lufs: Result<f64, Unmeasured>,
    /// Integrated loudness, in LUFS.
    pub integrated_lufs: Result<f64, Unmeasured>,
    /// Loudness range, in LU.
    pub range_lu: Result<f64, Unmeasured>,
}

/// Measures [`Loudness`].
#[derive(Clone, Debug)]
pub struct LoudnessMeter {
    isa: Isa,
    sections: [Biquad; 2],
    state: State64<2>,
    framer: Framer,
    steps: Steps,
    channels: Vec<(Trace, Programme)>,
    together: Option<Together>,
}

/// Channels that sound together, with their weights.
#[derive(Clone, Debug)]
struct Together {
    weights: Vec<f64>,
    k_power: Trace,
    programme: Programme,
}

impl LoudnessMeter {
    /// A meter for some channels of one rate.
    pub fn new(rate_hz: u32, n_channels: usize) -> Self {
        let isa = Isa::best();
        let mut steps = Steps::new(rate_hz, STEPS_PER_S);
        Self {
            isa,
            sections: weighting::k(rate_hz),
            state: [[[0.0; LANES]; 2]; 2],
            framer: Framer::new(steps.take()),
            steps,
            channels: vec![(Trace::new(STEP_S), Programme::new()); n_channels],
            together: None,
        }
    }

    /// A meter for one programme of several channels: their powers are added, each times its weight.
    ///
    /// Weights are 1 for left, right and centre, 1.41 for surrounds (BS.1770-5 annex 1, table 3). The programme is the one
    /// result of [`LoudnessMeter::finish`].
    pub fn of_programme(rate_hz: u32, weights: &[f64]) -> Self {
        let together = Together {
            weights: weights.to_vec(),
            k_power: Trace::new(STEP_S),
            programme: Programme::new(),
        };
        Self { together: Some(together), ..Self::new(rate_hz, 0) }
    }

    /// Takes the next samples.
    pub fn push(&mut self, group: Group<'_>) {
        for_each_pack(self.isa, group, |frames| self.take(frames));
    }

    /// The same, of samples that are packed already.
    pub fn take(&mut self, frames: &[Frame]) {
        let Self { isa, sections, state, framer, steps, channels, together } = self;
        framer.push(frames, |frames| {
            let mut energy = [0.0; LANES];
            weighted_energy(*isa, frames, sections, state, &mut energy);
            #[expect(clippy::cast_precision_loss, reason = "a step has few samples")]
            let powers = energy.map(|energy| energy / frames.len() as f64);
            for ((trace, programme), &power) in channels.iter_mut().zip(&powers) {
                trace.push_power(power);
                programme.push(power);
            }
            if let Some(Together { weights, k_power, programme }) = together {
                let sum = weights.iter().zip(&powers).map(|(weight, power)| weight * power).sum();
                k_power.push_power(sum);
                programme.push(sum);
            }
            steps.take()
        });
    }

    /// The loudness, one a channel; or one in all of a programme.
    pub fn finish(self) -> Vec<Loudness> {
        let together = self.together.map(|sum| (sum.k_power, sum.programme));
        let all = self.channels.into_iter().chain(together);
        all.map(|(k_power, programme)| programme.finish(k_power)).collect()
    }
}
