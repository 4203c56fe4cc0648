//! # Level and sample peak
//!
//! How much power a channel carries, step by step, and where its highest sample lies.
//!
//! - **Formula:** power `(1/N) Σ x[n]²`, peak `max |x[n]|`, over steps of 10 ms and over the whole
//! - **Unit:** power re full scale squared; plain, so a full-scale sine has 0.5 (-3.0 dBFS)
//! - **Range:** 0 upwards; floating-point files may exceed 1
//! - **Source:** definition of the mean square; the plain RMS convention is common practice (AES17 adds 3 dB)
//! - **Window:** the whole recording in steps of 10 ms; a rest shorter than a step is left out of the traces only
//! - **No value:** never
//! - **Misleads when:** low notes are shorter than their period in a step: join steps before comparing

use super::Trace;
use crate::dsp::Group;
use crate::dsp::lanes::{Frame, Framer, Isa, LANES, for_each_pack, step_level};
use crate::dsp::steps::Steps;

/// Steps of the traces in a second.
pub const STEPS_PER_S: u32 = 100;

/// Length of a step, in seconds.
pub const STEP_S: f64 = 0.01;

/// Levels of one channel.
#[derive(Clone, Debug, PartialEq)]
pub struct Levels {
    /// Mean square, in steps of 10 ms.
    pub power: Trace,
    /// Largest squared sample, in steps of 10 ms.
    pub peak: Trace,
    /// Sum of all squared samples.
    pub sum_square: f64,
    /// How many samples.
    pub n_samples: u64,
    /// Size of the highest sample, 1 is full scale.
    pub top: f64,
    /// When the highest sample falls (the first of equals), in seconds from the start of the recording.
    pub top_at_s: f64,
}

/// Measures [`Levels`].
#[derive(Clone, Debug)]
pub struct LevelMeter {
    isa: Isa,
    rate_hz: u32,
    framer: Framer,
    steps: Steps,
    n_samples: u64,
    sums: [f64; LANES],
    tops: Frame,
    tops_at: [u64; LANES],
    traces: Vec<[Trace; 2]>,
}

impl LevelMeter {
    /// A meter for some channels of one rate.
    pub fn new(rate_hz: u32, n_channels: usize) -> Self {
        let isa = Isa::best();
        let mut steps = Steps::new(rate_hz, STEPS_PER_S);
        Self {
            isa,
            rate_hz,
            framer: Framer::new(steps.take()),
            steps,
            n_samples: 0,
            sums: [0.0; LANES],
            tops: [0.0; LANES],
            tops_at: [0; LANES],
            traces: vec![[Trace::new(STEP_S), Trace::new(STEP_S)]; n_channels],
        }
    }

    /// Takes the next samples.
    pub fn push(&mut self, group: Group<'_>) {
        for_each_pack(self.isa, group, |frames| self.take(frames));
    }

    /// The same, of samples that are packed already.
    pub fn take(&mut self, frames: &[Frame]) {
        let Self { isa, framer, steps, n_samples, sums, tops, tops_at, traces, .. } = self;
        framer.push(frames, |frames| {
            let (energy, peak) = measure(*isa, frames, *n_samples, tops, tops_at);
            for (lane, [power, peaks]) in traces.iter_mut().enumerate() {
                power.push_power(energy[lane] / count(frames.len() as u64));
                peaks.push_power(f64::from(peak[lane]).powi(2));
                sums[lane] += energy[lane];
            }
            *n_samples += frames.len() as u64;
            steps.take()
        });
    }

    /// The levels, one a channel.
    pub fn finish(mut self) -> Vec<Levels> {
        let rest = self.framer.rest();
        let (energy, _) =
            measure(self.isa, rest, self.n_samples, &mut self.tops, &mut self.tops_at);
        let n_samples = self.n_samples + rest.len() as u64;
        let rate_hz = f64::from(self.rate_hz);
        let levels = self.traces.into_iter().enumerate().map(|(lane, [power, peak])| Levels {
            power,
            peak,
            sum_square: self.sums[lane] + energy[lane],
            n_samples,
            top: f64::from(self.tops[lane]),
            top_at_s: count(self.tops_at[lane]) / rate_hz,
        });
        levels.collect()
    }
}

/// Energies and peaks of a step; notes where a new highest sample lies.
fn measure(
    isa: Isa,
    frames: &[Frame],
    from: u64,
    tops: &mut Frame,
    tops_at: &mut [u64; LANES],
) -> ([f64; LANES], Frame) {
    let (mut energy, mut peak) = ([0.0; LANES], [0.0; LANES]);
    step_level(isa, frames, &mut energy, &mut peak);
    for lane in 0..LANES {
        if peak[lane] > tops[lane] {
            let is_top = |frame: &Frame| frame[lane].abs() >= peak[lane];
            let at = frames.iter().position(is_top).unwrap_or(0);
            (tops[lane], tops_at[lane]) = (peak[lane], from + at as u64);
        }
    }
    (energy, peak)
}

#[expect(clippy::cast_precision_loss, reason = "a count of samples is far below 2^52")]
fn count(n_samples: u64) -> f64 {
    n_samples as f64
}
