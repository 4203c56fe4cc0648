//! # Level above a corner
//!
//! The level of a channel over time without its rumble: what tells whether a source without low notes sounds.
//!
//! - **Formula:** mean square of the output of a fourth-order Butterworth high-pass at the corner, in steps of 10 ms
//! - **Unit:** power re full scale squared; plain, so a full-scale sine far above the corner has 0.5 (-3.0 dBFS)
//! - **Range:** 0 upwards; a tone an octave below the corner loses 24 dB
//! - **Source:** S. Butterworth, "On the theory of filter amplifiers", 1930; common practice: footsteps and wind are no singing
//! - **Window:** the whole recording in steps of 10 ms
//! - **No value:** never; silence has power 0
//! - **Misleads when:** the source has its fundamental below the corner

use super::Trace;
use super::level::{STEP_S, STEPS_PER_S};
use crate::dsp::Group;
use crate::dsp::biquad::{Biquad, high_pass};
use crate::dsp::lanes::{Frame, Framer, Isa, LANES, State64, for_each_pack, weighted_energy};
use crate::dsp::steps::Steps;

/// Measures the level above a corner.
#[derive(Clone, Debug)]
pub struct AboveMeter {
    isa: Isa,
    sections: [Biquad; 2],
    state: State64<2>,
    framer: Framer,
    steps: Steps,
    /// Of the channels that are asked for.
    traces: Vec<Option<Trace>>,
}

impl AboveMeter {
    /// A meter for some channels of one rate; `wanted` says of each whether it is asked for.
    ///
    /// # Panics
    ///
    /// If the corner is not between 0 and half of the rate.
    pub fn new(rate_hz: u32, wanted: &[bool], corner_hz: f64) -> Self {
        let isa = Isa::best();
        let mut steps = Steps::new(rate_hz, STEPS_PER_S);
        let sections = high_pass(f64::from(rate_hz), corner_hz, 4);
        Self {
            isa,
            sections: sections.try_into().expect("fourth order has two sections"),
            state: [[[0.0; LANES]; 2]; 2],
            framer: Framer::new(steps.take()),
            steps,
            traces: wanted.iter().map(|wanted| wanted.then(|| Trace::new(STEP_S))).collect(),
        }
    }

    /// Takes the next samples.
    pub fn push(&mut self, group: Group<'_>) {
        for_each_pack(self.isa, group, |frames| self.take(frames));
    }

    /// The same, of samples that are packed already.
    pub fn take(&mut self, frames: &[Frame]) {
        let Self { isa, sections, state, framer, steps, traces } = self;
        if traces.iter().all(Option::is_none) {
            return;
        }
        framer.push(frames, |frames| {
            let mut energy = [0.0; LANES];
            weighted_energy(*isa, frames, sections, state, &mut energy);
            for (trace, energy) in traces.iter_mut().zip(energy) {
                #[expect(clippy::cast_precision_loss, reason = "a step has few samples")]
                let power = energy / frames.len() as f64;
                if let Some(trace) = trace {
                    trace.push_power(power);
                }
            }
            steps.take()
        });
    }

    /// The level over time, a trace for each channel that is asked for.
    pub fn finish(self) -> Vec<Option<Trace>> {
        self.traces
    }
}
