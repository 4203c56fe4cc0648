//! By how much one tap is later than the other.
//!
//! Takes two taps of a channel, gives whole samples and a polarity. Never gives a delay for taps of different sources.

use realfft::RealFftPlanner;
use realfft::num_complex::Complex64;

use crate::unit::Unmeasured;

/// Samples in a block, and with as many zeros behind.
const BLOCK: usize = 32_768;

/// Farthest delay that is looked for, in seconds.
const FAR_S: f64 = 0.100;

/// Bins below this share of the strongest count by their power, not by their phase alone.
const FLOOR: f64 = 1e-5;

/// How far the peak stands over the root mean square of all lags, at least.
const NEEDS_PEAK: f64 = 8.0;

/// Delay of the second tap, in samples, and its sign.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Alignment {
    pub(super) lag: isize,
    pub(super) polarity: f64,
}

/// Aligns by the phases of the averaged cross-spectrum (Knapp & Carter 1976).
#[expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    reason = "lags are a few thousand samples"
)]
pub(super) fn align(raw: &[f32], processed: &[f32], rate_hz: u32) -> Result<Alignment, Unmeasured> {
    let n = 2 * BLOCK;
    let mut planner = RealFftPlanner::<f64>::new();
    let (forward, inverse) = (planner.plan_fft_forward(n), planner.plan_fft_inverse(n));
    let mut sum = forward.make_output_vec();
    let spectrum = |block: &[f32]| {
        let mut padded = forward.make_input_vec();
        padded.iter_mut().zip(block).for_each(|(slot, &x)| *slot = f64::from(x));
        let mut bins = forward.make_output_vec();
        forward.process(&mut padded, &mut bins).expect("the buffers have the plan's lengths");
        bins
    };
    for (first, second) in raw.chunks(BLOCK).zip(processed.chunks(BLOCK)) {
        let (first, second) = (spectrum(first), spectrum(second));
        let cross: Vec<Complex64> = first.iter().zip(&second).map(|(a, b)| a.conj() * b).collect();
        let most = cross.iter().map(|value| value.norm()).fold(0.0, f64::max);
        if most > 0.0 {
            let direction = |value: &Complex64| value / value.norm().max(FLOOR * most);
            sum.iter_mut().zip(&cross).for_each(|(sum, value)| *sum += direction(value));
        }
    }
    let last = sum.len() - 1;
    (sum[0].im, sum[last].im) = (0.0, 0.0);
    let mut lags = inverse.make_output_vec();
    inverse.process(&mut sum, &mut lags).expect("the ends are real");
    let far = ((FAR_S * f64::from(rate_hz)) as isize).min(n as isize / 2 - 1);
    let at = |lag: isize| lags[lag.rem_euclid(n as isize) as usize];
    let peak = (-far..=far).max_by(|&a, &b| at(a).abs().total_cmp(&at(b).abs())).unwrap_or(0);
    let square: f64 = (-far..=far).map(|lag| at(lag).powi(2)).sum();
    let rms = (square / (2 * far + 1) as f64).sqrt();
    if rms <= 0.0 {
        return Err(Unmeasured::Silent);
    }
    if at(peak).abs() < NEEDS_PEAK * rms {
        return Err(Unmeasured::Because("the two taps are not of one source"));
    }
    Ok(Alignment { lag: peak, polarity: at(peak).signum() })
}

/// The parts of both taps that belong together.
pub(super) fn shared<'a>(
    raw: &'a [f32],
    processed: &'a [f32],
    lag: isize,
) -> (&'a [f32], &'a [f32]) {
    let late = lag.unsigned_abs();
    let (raw, processed) = if lag >= 0 {
        (raw, &processed[late.min(processed.len())..])
    } else {
        (&raw[late.min(raw.len())..], processed)
    };
    let n = raw.len().min(processed.len());
    (&raw[..n], &processed[..n])
}
