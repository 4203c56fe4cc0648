//! # Speech over noise in the hall
//!
//! How far words stand over fans, projectors and traffic at a microphone in the room.
//!
//! - **Formula:** A-weighted levels of 0.4 s from third-octaves; 95th percentile in talk minus 10th percentile in talk and quiet
//!   stretches together
//! - **Unit:** dB
//! - **Range:** 0 dB upwards, as far as the microphone's own noise lets it
//! - **Source:** IEC 61672-1:2013 (A weighting); 15 dB are wanted for teaching (ANSI/ASA S12.60, from memory)
//! - **Window:** talk, and stretches in which every channel is quiet
//! - **No value:** under 20 s of talk
//! - **Misleads when:** somebody in the audience talks or coughs; the recorder follows the level by itself

use super::thirds::{STEP_S, Thirds};
use crate::dsp::percentile::percentile;
use crate::dsp::thirds::mid_hz;
use crate::dsp::weighting::a_db;
use crate::unit::spans::total_s;
use crate::unit::{Span, Unmeasured};

/// Talk that is needed, in seconds.
const NEEDS_S: f64 = 20.0;

/// Steps in a level.
const STEPS: usize = 2;

const LOUD: f64 = 0.95;
const QUIET: f64 = 0.10;

/// Speech over noise in dB, from the third-octaves of a microphone in the room.
///
/// # Errors
///
/// [`Unmeasured::TooLittleActive`] under 20 s of talk; [`Unmeasured::Silent`] for digital silence.
pub fn speech_over_noise_db(
    thirds: &Thirds,
    talk: &[Span],
    quiet: &[Span],
) -> Result<f64, Unmeasured> {
    let have_s = total_s(talk);
    if have_s < NEEDS_S {
        return Err(Unmeasured::TooLittleActive { have_s, need_s: NEEDS_S });
    }
    let weights: Vec<f64> =
        (0..thirds.bands.len()).map(|band| 10f64.powf(a_db(mid_hz(band)) / 10.0)).collect();
    let power = |step: usize| -> f64 {
        thirds.bands.iter().zip(&weights).map(|(band, weight)| weight * band.power(step)).sum()
    };
    let levels = |spans: &[Span]| -> Vec<f64> {
        let all = spans.iter().flat_map(|span| span_steps(*span, thirds.n_steps()));
        let sum = |first: usize| (first..first + STEPS).map(power).sum::<f64>();
        all.map(sum).filter(|&sum| sum > 0.0).map(|sum| 10.0 * sum.log10()).collect()
    };
    let spoken = levels(talk);
    let mut all = levels(quiet);
    all.extend(&spoken);
    let loud = percentile(&spoken, LOUD).ok_or(Unmeasured::Silent)?;
    let noise = percentile(&all, QUIET).ok_or(Unmeasured::Silent)?;
    Ok(loud - noise)
}

/// First steps of levels that lie inside a stretch.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a time in the session is not negative"
)]
fn span_steps(span: Span, n_steps: usize) -> std::iter::StepBy<std::ops::Range<usize>> {
    let first = (span.start_s / STEP_S).ceil() as usize;
    let end = ((span.end_s / STEP_S).floor() as usize).min(n_steps);
    (first..end.saturating_sub(STEPS - 1).max(first)).step_by(STEPS)
}
