//! Correlation by lag, finer than the samples lie, and its peak.
//!
//! Takes the cross-spectrum of frames, gives lags in seconds, positive where the second channel is later. Never judges a peak.

use std::ops::Range;
use std::sync::Arc;

use realfft::num_complex::Complex;
use realfft::{ComplexToReal, RealFftPlanner};

/// How many times finer the lags lie than the samples.
const FINER: usize = 4;

/// Turns cross-spectra of frames into correlations by lag.
pub(super) struct Correlator {
    inverse: Arc<dyn ComplexToReal<f64>>,
    fine_hz: f64,
}

/// A correlation by lag.
pub(super) struct Lags {
    values: Vec<f64>,
    fine_hz: f64,
}

/// The largest value in size.
#[derive(Clone, Copy, Debug)]
pub(super) struct Peak {
    lag: isize,
    /// Where it lies, in seconds.
    pub(super) at_s: f64,
    /// What it is.
    pub(super) value: f64,
}

impl Correlator {
    /// For frames of a length.
    #[expect(clippy::cast_precision_loss, reason = "a small number")]
    pub(super) fn new(rate_hz: f64, frame: usize) -> Self {
        let inverse = RealFftPlanner::<f64>::new().plan_fft_inverse(FINER * frame);
        Self { inverse, fine_hz: rate_hz * FINER as f64 }
    }

    /// Angular frequency of a bin, in rad/s.
    #[expect(clippy::cast_precision_loss, reason = "a small number")]
    pub(super) fn turn(&self, bin: usize) -> f64 {
        std::f64::consts::TAU * bin as f64 * self.fine_hz / self.inverse.len() as f64
    }

    /// Inverse transform of some bins; the others are 0.
    pub(super) fn lags(&self, bins: Range<usize>, value: impl Fn(usize) -> Complex<f64>) -> Lags {
        let mut spectrum = self.inverse.make_input_vec();
        for bin in bins {
            spectrum[bin] = value(bin);
        }
        // The ends of a real signal's spectrum are real.
        spectrum[0] = Complex::default();
        let mut values = self.inverse.make_output_vec();
        self.inverse.process(&mut spectrum, &mut values).expect("the ends are real");
        Lags { values, fine_hz: self.fine_hz }
    }
}

/// Standard error of a lag that fits the phases of many bins best, in seconds: `sqrt(sum (w sin)^2) / |sum w^2 cos|` (the sandwich
/// of an estimate whose errors are those of its own residues). Takes each bin's angular frequency, in rad/s, and its value
/// turned back by the lag. Infinite where the bins don't tell.
pub(super) fn error_s(turned: impl Iterator<Item = (f64, Complex<f64>)>) -> f64 {
    let (slopes, bend) = turned.fold((0.0, 0.0), |(slopes, bend), (turn, value)| {
        (slopes + (turn * value.im).powi(2), bend + turn.powi(2) * value.re)
    });
    if bend.abs() > 0.0 { slopes.sqrt() / bend.abs() } else { f64::INFINITY }
}

impl Lags {
    /// The largest value in size within `far_s` of 0.
    pub(super) fn peak(&self, far_s: f64) -> Peak {
        let far = self.n_lags(far_s);
        let lag = (-far..=far)
            .max_by(|&a, &b| {
                self.at(a).abs().total_cmp(&self.at(b).abs()).then(b.abs().cmp(&a.abs()))
            })
            .unwrap_or(0);
        self.placed(lag)
    }

    /// A value; a parabola through its neighbours places it between the lags.
    #[expect(clippy::cast_precision_loss, reason = "lags are a few thousand at most")]
    fn placed(&self, lag: isize) -> Peak {
        let (before, here, after) =
            (self.at(lag - 1).abs(), self.at(lag).abs(), self.at(lag + 1).abs());
        let bend = before - 2.0 * here + after;
        let part = if bend < 0.0 { 0.5 * (before - after) / bend } else { 0.0 };
        let at_s = (lag as f64 + part.clamp(-0.5, 0.5)) / self.fine_hz;
        Peak { lag, at_s, value: self.at(lag) }
    }

    /// The highest peaks in size within `far_s` of 0, no two closer than `apart_s`: `n` at most, the highest first.
    pub(super) fn peaks(&self, far_s: f64, apart_s: f64, n: usize) -> Vec<Peak> {
        let (far, apart) = (self.n_lags(far_s), self.n_lags(apart_s));
        let size = |lag: isize| self.at(lag).abs();
        let mut tops: Vec<isize> = (-far..=far)
            .filter(|&lag| size(lag) > size(lag - 1) && size(lag) >= size(lag + 1))
            .collect();
        tops.sort_by(|&a, &b| size(b).total_cmp(&size(a)).then(a.cmp(&b)));
        let mut chosen: Vec<isize> = Vec::new();
        for top in tops {
            if chosen.len() == n {
                break;
            }
            if chosen.iter().all(|one| (one - top).abs() > apart) {
                chosen.push(top);
            }
        }
        chosen.into_iter().map(|lag| self.placed(lag)).collect()
    }

    /// Root mean square of the values within `far_s` of 0.
    #[expect(clippy::cast_precision_loss, reason = "lags are a few thousand at most")]
    pub(super) fn rms(&self, far_s: f64) -> f64 {
        let far = self.n_lags(far_s);
        let power: f64 = (-far..=far).map(|lag| self.at(lag).powi(2)).sum();
        (power / (2 * far + 1) as f64).sqrt()
    }

    /// Size of the largest value within `far_s` of 0 that lies farther than `near_s` from a peak.
    pub(super) fn rest(&self, peak: Peak, near_s: f64, far_s: f64) -> f64 {
        let (near, far) = (self.n_lags(near_s), self.n_lags(far_s));
        (-far..=far)
            .filter(|lag| (lag - peak.lag).abs() > near)
            .map(|lag| self.at(lag).abs())
            .fold(0.0, f64::max)
    }

    #[expect(clippy::cast_possible_truncation, reason = "lags are a few thousand at most")]
    fn n_lags(&self, time_s: f64) -> isize {
        (time_s * self.fine_hz) as isize
    }

    /// Value at a lag; what lies before 0 stands at the end.
    #[expect(clippy::cast_possible_wrap, reason = "a place in a spectrum")]
    fn at(&self, lag: isize) -> f64 {
        self.values[lag.rem_euclid(self.values.len() as isize) as usize]
    }
}
