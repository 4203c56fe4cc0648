//! # Response to a sweep
//!
//! What a hall makes of one impulse, from a sweep that was played through its loudspeakers.
//!
//! - **Formula:** spectrum of the recording over that of the sweep, which runs from `f1` to `f2` in `T` seconds, its frequency growing by
//!   the same factor each second; where the sweep has less than a thirtieth of the power that it has within its ends, that much counts
//! - **Unit:** none; only what follows its highest point is of use
//! - **Range:** from `f1` to `f2`
//! - **Source:** S. Müller and P. Massarani, "Transfer-function measurement with sweeps", J. Audio Eng. Soc. 49(6), 2001; A. Farina,
//!   "Simultaneous measurement of impulse response and distortion with a swept-sine technique", 108th Convention of the Audio
//!   Engineering Society, 2000; ISO 18233:2006 (sweeps instead of impulses)
//! - **Window:** the sweep and 4 s behind it
//! - **No value:** fewer samples than the sweep has, silence, a sweep that nobody could play
//! - **Misleads when:** the loudspeakers distort and the sweep is short; the player's clock differs by more than 0.01 %; something
//!   else sounds, above all steps and claps

use std::f64::consts::TAU;

use realfft::RealFftPlanner;

use crate::unit::Unmeasured;

/// A sweep whose frequency grows by the same factor each second.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sweep {
    /// Frequency at its begin, in Hz.
    pub from_hz: f64,
    /// Frequency at its end, in Hz.
    pub to_hz: f64,
    /// Length, in seconds.
    pub length_s: f64,
}

impl Sweep {
    /// Whether it holds a band with these ends.
    pub fn holds(&self, low_hz: f64, high_hz: f64) -> bool {
        self.from_hz <= low_hz && high_hz <= self.to_hz
    }

    /// The sweep as it is played, at full level.
    #[expect(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "places in half a minute of samples"
    )]
    fn played(&self, rate_hz: f64) -> Vec<f32> {
        let n = (self.length_s * rate_hz).max(0.0) as usize;
        let growth = self.growth();
        let sample = |at: usize| {
            let share = at as f64 / n as f64;
            let turn = TAU * self.from_hz * self.length_s / growth * ((growth * share).exp() - 1.0);
            turn.sin() as f32
        };
        (0..n).map(sample).collect()
    }

    /// How often its frequency grows by the factor e.
    fn growth(&self) -> f64 {
        (self.to_hz / self.from_hz).ln()
    }

    /// Power of its spectrum where it passes a frequency, by how long it stays there; outside that of the nearer end.
    fn power(&self, hz: f64, rate_hz: f64) -> f64 {
        let stays_s = self.length_s / (self.growth() * hz.clamp(self.from_hz, self.to_hz));
        0.25 * stays_s * rate_hz.powi(2)
    }
}

/// What is kept before the highest point, and most behind it, in seconds.
const BEFORE_S: f64 = 0.2;
const BEHIND_S: f64 = 4.0;

/// Least power that is divided by, re that of a sweep without ends: -15 dB. A sweep that begins at 40 Hz ripples by several decibels
/// up to 60 Hz and holds something down to 30 Hz: weights that follow its frequency alone left times of the 63 Hz octave 25 % off.
const LEAST: f64 = 0.03;

/// The response that a recording of a sweep holds: from 0.2 s before its highest point to 4 s behind it, or as long as it was recorded.
///
/// # Errors
///
/// [`Unmeasured::TooShort`] if the recording is no longer than the sweep; [`Unmeasured::Silent`] for digital silence; a reason for a
/// sweep that can't be.
#[expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "places in half a minute of samples"
)]
pub fn response(samples: &[f32], rate_hz: u32, sweep: &Sweep) -> Result<Vec<f32>, Unmeasured> {
    let rate = f64::from(rate_hz);
    let is_lawful = 0.0 < sweep.from_hz && sweep.from_hz < sweep.to_hz && sweep.to_hz <= 0.5 * rate;
    if !is_lawful || !sweep.length_s.is_finite() {
        return Err(Unmeasured::Because("the sample rate does not hold the stated sweep"));
    }
    let played = sweep.played(rate);
    if played.is_empty() || samples.len() <= played.len() {
        let have_s = samples.len() as f64 / rate;
        return Err(Unmeasured::TooShort { have_s, need_s: sweep.length_s });
    }
    let product = divided(samples, &played, |hz| LEAST * sweep.power(hz, rate), rate);
    // Before the end of the inverse nothing but distortion and what sounded earlier can be.
    let highest = (played.len()..samples.len())
        .max_by(|&a, &b| product[a].abs().total_cmp(&product[b].abs()));
    let Some(top) = highest.filter(|&top| product[top].abs() > 0.0) else {
        return Err(Unmeasured::Silent);
    };
    let from = top.saturating_sub((BEFORE_S * rate) as usize);
    let until = (top + (BEHIND_S * rate) as usize).min(samples.len());
    Ok(product[from..until].to_vec())
}

/// What turns `by` into `signal`, behind as many samples as `by` has: what lies earlier sounded before it. Where the power of `by` is
/// less than `least` at a frequency, it counts as that.
#[expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    reason = "places in half a minute of samples, powers far below 2^127"
)]
fn divided(signal: &[f32], by: &[f32], least: impl Fn(f64) -> f64, rate_hz: f64) -> Vec<f32> {
    let n = (signal.len() + by.len()).next_power_of_two();
    let mut planner = RealFftPlanner::<f32>::new();
    let (forward, inverse) = (planner.plan_fft_forward(n), planner.plan_fft_inverse(n));
    let mut padded = forward.make_input_vec();
    let (mut quotient, mut bins) = (forward.make_output_vec(), forward.make_output_vec());
    for (samples, bins) in [(signal, &mut quotient), (by, &mut bins)] {
        padded.fill(0.0);
        padded[..samples.len()].copy_from_slice(samples);
        // Lengths are those of the plan, so that the transform can't fail.
        let done = forward.process(&mut padded, bins);
        debug_assert!(done.is_ok(), "the buffers have the plan's lengths");
    }
    for (at, (a, b)) in quotient.iter_mut().zip(&bins).enumerate() {
        let least = least(at as f64 * rate_hz / n as f64) as f32;
        *a *= b.conj() / (n as f32 * b.norm_sqr().max(least));
    }
    // A quotient of two real spectra is one; its ends carry rounding only.
    if let Some(first) = quotient.first_mut() {
        first.im = 0.0;
    }
    if let Some(last) = quotient.last_mut() {
        last.im = 0.0;
    }
    let done = inverse.process(&mut quotient, &mut padded);
    debug_assert!(done.is_ok(), "the buffers have the plan's lengths");
    padded.rotate_right(by.len());
    padded.truncate(signal.len() + by.len());
    padded
}
