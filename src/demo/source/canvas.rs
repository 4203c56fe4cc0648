//! The sheet that every renderer draws on, and the small conversions they share.
//!
//! Takes seconds, pitches, velocities and decibels; gives samples, hertz and factors. Never a sample that is not finite.

use crate::demo::source::filter::Filter;

/// Samples under the pen, with their rate.
#[derive(Clone, Debug)]
pub(super) struct Canvas {
    /// What is drawn so far.
    pub(super) samples: Vec<f64>,
    /// Sample rate, in Hz.
    pub(super) rate_hz: f64,
}

impl Canvas {
    /// An empty sheet.
    pub(super) fn new(length_samples: usize, rate_hz: u32) -> Self {
        Self { samples: vec![0.0; length_samples], rate_hz: f64::from(rate_hz) }
    }

    /// The sample at a time, at most the end of the sheet.
    pub(super) fn index(&self, time_s: f64) -> usize {
        whole(time_s * self.rate_hz).min(self.samples.len())
    }

    /// Gives the drawing its tone and its level, and hands it over.
    pub(super) fn finish(mut self, gain_db: f64, tone: &mut [Filter]) -> Vec<f32> {
        for filter in tone {
            filter.run(&mut self.samples);
        }
        let gain = factor(gain_db);
        self.samples.iter().map(|&sample| narrow(sample * gain)).collect()
    }
}

/// The nearest whole number, 0 for what lies below.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "saturates")]
pub(super) fn whole(value: f64) -> usize {
    value.max(0.0).round() as usize
}

/// A sample as it is stored.
#[expect(clippy::cast_possible_truncation, reason = "24 bits are more than any desk hears")]
pub(super) fn narrow(sample: f64) -> f32 {
    sample as f32
}

/// Decibels as a factor on amplitudes.
pub(super) fn factor(db: f64) -> f64 {
    10.0_f64.powf(db / 20.0)
}

/// Frequency of a MIDI pitch, in Hz: 440 at 69, double each 12.
pub(super) fn frequency_hz(pitch: f64) -> f64 {
    440.0 * ((pitch - 69.0) / 12.0).exp2()
}

/// Amplitude of a velocity: 1 at 0.8, and 3 dB each 0.1.
pub(super) fn strength(velocity: f64) -> f64 {
    factor(30.0 * (velocity.clamp(0.0, 1.0) - 0.8))
}

/// What an amplitude keeps each sample when it falls by 60 dB in `t60_s`.
pub(super) fn keep(t60_s: f64, rate_hz: f64) -> f64 {
    10.0_f64.powf(-3.0 / (t60_s * rate_hz))
}
