//! # Two channels on one source
//!
//! How two microphones, or a microphone and a DI, agree on the source they share: correlation, arrival, polarity.
//!
//! - **Formula:** cross-spectrum `S12 = mean(conj(X1) X2)` and power spectra over frames of 8192 samples (Hann, half
//!   overlapped), coherence `c = |S12|^2 / (S11 S22)`; body correlation: the largest `r(d)` in size within 1.5 ms, where
//!   `r` is the inverse transform of `S12` within the body band over `sqrt(sum S11 sum S22)` there; arrival: the largest value
//!   in size of the inverse transform of `c S12 / |S12|` between 60 Hz and 8 kHz within 30 ms, four times interpolated, with a
//!   parabola; polarity: its sign; quality: its size re the largest farther than 15 samples (at 48 kHz) from it
//! - **Unit:** correlation; s; 1 or -1
//! - **Range:** correlation -1 to 1; arrival -0.03 to 0.03 s, positive: later in the second
//! - **Source:** C. H. Knapp, G. C. Carter, "The generalized correlation method for estimation of time delay", IEEE Trans.
//!   ASSP 24(4), 1976; Welch's averaged spectra; tapering windows after Clifford and Reiss, JAES 61(11), 2013
//! - **Window:** whole recording; loud frames weigh by their power
//! - **No value:** less than 3 s, a silent channel, or a coherence below 0.2 throughout the body; no arrival where its quality is below
//!   1.3
//! - **Misleads when:** another source is louder in both channels, or one of them runs through a delay that drifts

use realfft::num_complex::Complex;

use super::arrival::{NEAR_S, NEEDS_QUALITY};
use super::lag::Correlator;
use super::taper::{Taper, Workspace};
use crate::dsp::Frames;
use crate::unit::Unmeasured;

/// Samples in a frame and new ones in each.
const FRAME: usize = 8192;
const HOP: usize = FRAME / 2;

/// Farthest lag of the body correlation, in seconds: half a metre.
const BODY_LAG_S: f64 = 0.0015;

/// Farthest arrival that is looked for, in seconds: 10 m.
const ARRIVAL_S: f64 = 0.030;

/// Band in which the arrival is looked for, in Hz.
const ARRIVAL_HZ: [f64; 2] = [60.0, 8000.0];

/// Least time, in seconds.
const NEEDS_S: f64 = 3.0;

/// Coherence under which the channels share too little, mean over the body band.
const NEEDS_COHERENCE: f64 = 0.2;

/// What two channels on one source have in common.
#[derive(Clone, Debug, PartialEq)]
pub struct Kin {
    /// Correlation at the best lag within 1.5 ms, in the body band.
    pub body_correlation: f64,
    /// How the source arrives in the second, if one arrival stands out: two drumheads may each be first in their own microphone.
    pub arrival: Result<Arrived, Unmeasured>,
    /// Mean coherence in the body band, 0 to 1.
    pub coherence: f64,
}

/// How a source arrives in the second of two channels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Arrived {
    /// Arrival in the second minus arrival in the first, in seconds.
    pub delay_s: f64,
    /// 1 or -1: sign of the correlation at that arrival.
    pub polarity: f64,
}

/// Measures what two channels have in common. Its memory is fixed: three spectra.
pub struct SameSourceMeter {
    rate_hz: f64,
    body_hz: [f64; 2],
    frames: [Frames; 2],
    /// Kept to spare its memory: frames that are full, one behind the other.
    full: [Vec<f32>; 2],
    taper: Taper,
    correlator: Correlator,
    workspaces: [Workspace; 2],
    power: [Vec<f64>; 2],
    cross: Vec<Complex<f64>>,
    n_frames: usize,
}

impl SameSourceMeter {
    /// A meter for two channels of one rate; `body_hz` is where the source has its body.
    pub fn new(rate_hz: u32, body_hz: [f64; 2]) -> Self {
        let n_bins = FRAME / 2 + 1;
        Self {
            rate_hz: f64::from(rate_hz),
            body_hz,
            frames: [Frames::new(FRAME - HOP, HOP), Frames::new(FRAME - HOP, HOP)],
            full: <[Vec<f32>; 2]>::default(),
            taper: Taper::new(FRAME),
            workspaces: <[Workspace; 2]>::default(),
            correlator: Correlator::new(f64::from(rate_hz), FRAME),
            power: [vec![0.0; n_bins], vec![0.0; n_bins]],
            cross: vec![Complex::default(); n_bins],
            n_frames: 0,
        }
    }

    /// Takes the next samples of both channels.
    ///
    /// # Panics
    ///
    /// If the channels differ in length.
    pub fn push(&mut self, first: &[f32], second: &[f32]) {
        assert_eq!(first.len(), second.len(), "both channels bring the same seconds");
        let mut full = std::mem::take(&mut self.full);
        for ((frames, full), samples) in self.frames.iter_mut().zip(&mut full).zip([first, second])
        {
            full.clear();
            frames.push(samples, |_, frame| full.extend_from_slice(frame));
        }
        for (first, second) in full[0].chunks_exact(FRAME).zip(full[1].chunks_exact(FRAME)) {
            self.add(first, second);
        }
        self.full = full;
    }

    fn add(&mut self, first: &[f32], second: &[f32]) {
        let [of_first, of_second] = &mut self.workspaces;
        let a = self.taper.spectrum(first, of_first);
        let b = self.taper.spectrum(second, of_second);
        for (bin, (&a, &b)) in a.iter().zip(b).enumerate() {
            let wide = |value: Complex<f32>| Complex::new(f64::from(value.re), f64::from(value.im));
            let (a, b) = (wide(a), wide(b));
            self.power[0][bin] += a.norm_sqr();
            self.power[1][bin] += b.norm_sqr();
            self.cross[bin] += a.conj() * b;
        }
        self.n_frames += 1;
    }

    /// What the channels have in common.
    ///
    /// # Errors
    ///
    /// [`Unmeasured::TooShort`] below 3 s, [`Unmeasured::Silent`], or a reason if they share too little.
    #[expect(clippy::cast_precision_loss, reason = "a count of frames is far below 2^52")]
    pub fn finish(self) -> Result<Kin, Unmeasured> {
        let have_s = self.n_frames as f64 * HOP as f64 / self.rate_hz;
        if have_s < NEEDS_S {
            return Err(Unmeasured::TooShort { have_s, need_s: NEEDS_S });
        }
        let body = self.bins(self.body_hz);
        let sum = |power: &[f64]| power[body.clone()].iter().sum::<f64>();
        let size = (sum(&self.power[0]) * sum(&self.power[1])).sqrt();
        if size <= 0.0 {
            return Err(Unmeasured::Silent);
        }
        let coherence =
            body.clone().map(|bin| self.coherence(bin)).sum::<f64>() / body.len().max(1) as f64;
        if coherence < NEEDS_COHERENCE {
            return Err(Unmeasured::Because("the two channels share too little"));
        }
        // The inverse transform counts each bin twice: once here, once as its mirror.
        let in_body = self.correlator.lags(body, |bin| self.cross[bin] / (2.0 * size));
        let lags = self.correlator.lags(self.bins(ARRIVAL_HZ), |bin| {
            let cross = self.cross[bin];
            let length = cross.norm();
            if length > 0.0 { cross * (self.coherence(bin) / length) } else { cross }
        });
        let peak = lags.peak(ARRIVAL_S);
        let stands_out = peak.value.abs() >= NEEDS_QUALITY * lags.rest(peak, NEAR_S, ARRIVAL_S);
        let arrived = Arrived { delay_s: peak.at_s, polarity: peak.value.signum() };
        Ok(Kin {
            body_correlation: in_body.peak(BODY_LAG_S).value.clamp(-1.0, 1.0),
            arrival: stands_out
                .then_some(arrived)
                .ok_or(Unmeasured::Because("no single arrival stands out")),
            coherence,
        })
    }

    #[expect(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "bins of a frame"
    )]
    fn bins(&self, [low_hz, high_hz]: [f64; 2]) -> std::ops::Range<usize> {
        let bin = |hz: f64| ((hz * FRAME as f64 / self.rate_hz).ceil() as usize).min(FRAME / 2);
        bin(low_hz)..bin(high_hz)
    }

    fn coherence(&self, bin: usize) -> f64 {
        let powers = self.power[0][bin] * self.power[1][bin];
        if powers > 0.0 { self.cross[bin].norm_sqr() / powers } else { 0.0 }
    }
}
