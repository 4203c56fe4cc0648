//! # Quiet level above a frequency
//!
//! What is left of a microphone's noise when rumble and hum are left out.
//!
//! - **Formula:** 5th percentile over 1 s windows, 0.2 s apart, of the summed power of the third-octaves whose mid-band
//!   frequency is at or above the frequency
//! - **Unit:** dBFS, plain RMS
//! - **Range:** about -120 (an unused input) to -30
//! - **Source:** common practice: hiss is judged above 200 Hz; bands of IEC 61260-1:2014
//! - **Window:** stretches in which every channel is quiet
//! - **No value:** there is no such stretch, or it is digital silence
//! - **Misleads when:** a fan or a projector stands before the microphone

use super::Thirds;
use super::sliding::steps_inside;
use super::thirds::STEP_S;
use crate::dsp::percentile::percentile;
use crate::dsp::thirds::mid_hz;
use crate::unit::{Span, Unmeasured};

/// Steps in a window of 1 s.
const WINDOW: usize = 5;

/// Windows that a percentile needs: 3 s of quiet.
const NEEDS: usize = 11;

/// Share of windows at or below the figure.
const QUIET_SHARE: f64 = 0.05;

/// Quiet level above `corner_hz`, in dBFS.
///
/// # Errors
///
/// [`Unmeasured::NoQuietStretch`] below 3 s of quiet, [`Unmeasured::Silent`] in digital silence.
pub fn quiet_level_above_dbfs(
    thirds: &Thirds,
    quiet: &[Span],
    corner_hz: f64,
) -> Result<f64, Unmeasured> {
    let power_of = |step: usize| -> f64 {
        let bands = thirds.bands.iter().enumerate();
        bands.filter(|(band, _)| mid_hz(*band) >= corner_hz * 0.99).map(|(_, t)| t.power(step)).sum()
    };
    let mut powers = Vec::new();
    for &span in quiet {
        let steps: Vec<f64> =
            steps_inside(span, STEP_S, thirds.n_steps()).map(power_of).collect();
        #[expect(clippy::cast_precision_loss, reason = "five")]
        powers.extend(steps.windows(WINDOW).map(|some| some.iter().sum::<f64>() / WINDOW as f64));
    }
    if powers.len() < NEEDS {
        return Err(Unmeasured::NoQuietStretch);
    }
    let power = percentile(&powers, QUIET_SHARE).ok_or(Unmeasured::NoQuietStretch)?;
    if power > 0.0 { Ok(10.0 * power.log10()) } else { Err(Unmeasured::Silent) }
}
