//! # Third-octave levels
//!
//! How the power of a channel spreads over 29 bands, in steps of 0.2 s.
//!
//! - **Formula:** mean square of the output of an eighth-order band-pass between `f / 10^0.05` and `f * 10^0.05`
//! - **Unit:** power re full scale squared; plain, so a full-scale sine at a mid-band frequency has 0.5 (-3.0 dBFS)
//! - **Range:** 0 upwards
//! - **Source:** IEC 61260-1:2014, class 1
//! - **Window:** the whole recording in steps of 0.2 s; the filters themselves smear a low band by about 0.2 s
//! - **No value:** bands above 0.415 of the rate are absent; of a rate that holds none, there are no bands
//! - **Misleads when:** a step is compared with one next to it below 100 Hz: the filters are slower than the steps

use std::ops::Range;

use super::Trace;
use crate::dsp::Group;
use crate::dsp::lanes::{Frame, Framer, Isa, LANES, for_each_pack};
use crate::dsp::thirds::{Bank, STEPS_PER_S, n_bands};

/// Length of a step, in seconds.
pub const STEP_S: f64 = 0.2;

/// Third-octave levels of one channel.
#[derive(Clone, Debug, PartialEq)]
pub struct Thirds {
    /// Mean square of each band, from 25 Hz up; fewer than 29 where the rate is low.
    pub bands: Vec<Trace>,
}

impl Thirds {
    /// How many steps.
    pub fn n_steps(&self) -> usize {
        self.bands.first().map_or(0, Trace::len)
    }

    /// The power of some bands together, step by step; bands that are absent add nothing.
    pub fn joined(&self, bands: Range<usize>) -> Trace {
        let mut sum = Trace::new(STEP_S);
        let present = bands.start.min(self.bands.len())..bands.end.min(self.bands.len());
        self.sums(present, 0..self.n_steps()).into_iter().for_each(|power| sum.push_power(power));
        sum
    }

    /// The same behind an equaliser: each band times its factor of power.
    pub fn through(&self, gain: impl Fn(usize) -> f64) -> Self {
        let band = |(band, trace): (usize, &Trace)| {
            let gain = gain(band);
            let mut through = Trace::new(STEP_S);
            trace.each_power(0..trace.len(), |power| through.push_power(gain * power));
            through
        };
        Self { bands: self.bands.iter().enumerate().map(band).collect() }
    }

    /// Power of all bands in steps that follow each other.
    pub fn totals(&self, steps: Range<usize>) -> Vec<f64> {
        self.sums(0..self.bands.len(), steps)
    }

    /// Power of some bands together in steps that follow each other.
    ///
    /// # Panics
    ///
    /// If there are no such bands or steps.
    fn sums(&self, bands: Range<usize>, steps: Range<usize>) -> Vec<f64> {
        let mut sums = vec![0.0; steps.len()];
        for band in &self.bands[bands] {
            let powers = band.powers_in(steps.clone());
            sums.iter_mut().zip(powers).for_each(|(sum, power)| *sum += power);
        }
        sums
    }
}

/// Measures [`Thirds`].
#[derive(Clone, Debug)]
pub struct ThirdsMeter {
    isa: Isa,
    rate_hz: u32,
    n_samples: u64,
    bank: Option<(Framer, Bank)>,
    /// Bands of each channel.
    traces: Vec<Vec<Trace>>,
}

impl ThirdsMeter {
    /// A meter for some channels of one rate.
    pub fn new(rate_hz: u32, n_channels: usize) -> Self {
        let isa = Isa::best();
        let n_bands = n_bands(rate_hz);
        let bank = (n_bands > 0).then(|| {
            let bank = Bank::new(isa, rate_hz);
            (Framer::new(bank.chunk_len()), bank)
        });
        let traces = vec![vec![Trace::new(STEP_S); n_bands]; n_channels];
        Self { isa, rate_hz, n_samples: 0, bank, traces }
    }

    /// Takes the next samples.
    pub fn push(&mut self, group: Group<'_>) {
        for_each_pack(self.isa, group, |frames| self.take(frames));
    }

    /// The same, of samples that are packed already.
    pub fn take(&mut self, frames: &[Frame]) {
        self.n_samples += frames.len() as u64;
        let traces = &mut self.traces;
        if let Some((framer, bank)) = &mut self.bank {
            framer.push(frames, |frames| {
                bank.process(frames, |band, powers| note(traces, usize::MAX, band, powers));
                bank.chunk_len()
            });
        }
    }

    /// The third-octave levels, one a channel.
    pub fn finish(mut self) -> Vec<Thirds> {
        #[expect(clippy::cast_possible_truncation, reason = "steps fit into memory")]
        let n_steps = (self.n_samples * u64::from(STEPS_PER_S) / u64::from(self.rate_hz)) as usize;
        if let Some((framer, bank)) = &mut self.bank {
            let mut chunk: Vec<Frame> = framer.rest().to_vec();
            let mut n_flushed = 0;
            while n_flushed < bank.delay() + bank.chunk_len() {
                n_flushed += bank.chunk_len();
                chunk.resize(bank.chunk_len(), [0.0; LANES]);
                bank.process(&chunk, |band, powers| note(&mut self.traces, n_steps, band, powers));
                chunk.clear();
            }
        }
        self.traces.into_iter().map(|bands| Thirds { bands }).collect()
    }
}

/// Adds a step to the traces of a band, up to `most` steps.
fn note(traces: &mut [Vec<Trace>], most: usize, band: usize, powers: &[f64; LANES]) {
    for (bands, &power) in traces.iter_mut().zip(powers) {
        if bands[band].len() < most {
            bands[band].push_power(power);
        }
    }
}
