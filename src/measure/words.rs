//! # Words in the hall
//!
//! How far words keep their shape at a microphone in the room: what noise leaves of them, and what noise and decay leave together.
//!
//! - **Formula:** by octave from 500 Hz to 4 kHz `m(F) = 1 / (1 + N/S) / sqrt(1 + (2 pi F T / 13.8)^2)` with speech `S`, noise `N` and
//!   decay time `T`, `F` in third-octaves from 0.63 to 12.5 Hz; `clip((10 lg(m / (1 - m)) + 15) / 30, 0, 1)`, mean over `F`; mean over
//!   the octaves by their importance for speech. Noise: 10th percentile of 0.4 s in talk and quiet together; speech: mean power in talk
//!   less the noise. High end: `T` = 0, as beside the talker; low end: as far away, where all sound comes by way of the walls
//! - **Unit:** 0 (lost) to 1 (kept)
//! - **Range:** 0 to 1
//! - **Source:** T. Houtgast and H. J. M. Steeneken, "A review of the MTF concept in room acoustics", J. Acoust. Soc. Am. 77(3), 1985;
//!   importances of octaves: ANSI S3.5-1997, from memory. No hearing threshold, no masking, no weights of the standard: it is not STI
//! - **Window:** talk, and stretches in which every channel is quiet
//! - **No value:** under 20 s of talk. Without a decay time the high end is a bound
//! - **Misleads when:** somebody in the audience talks or coughs; the microphone stands far from the audience

use super::thirds::{STEP_S, Thirds};
use crate::dsp::percentile::percentile;
use crate::dsp::thirds::band_at;
use crate::unit::spans::total_s;
use crate::unit::{Span, Unmeasured};

/// Octaves, in Hz, and their importance.
const OCTAVES: [(f64, f64); 4] =
    [(500.0, 0.1671), (1000.0, 0.2373), (2000.0, 0.2648), (4000.0, 0.2142)];

/// Talk that is needed, in seconds; steps in a level; share of the levels that is noise.
const NEEDS_S: f64 = 20.0;
const STEPS: usize = 2;
const QUIET: f64 = 0.10;

/// Lowest rate of the syllables, in Hz; how many thirds of an octave there are.
const SLOWEST_HZ: f64 = 0.63;
const N_RATES: u32 = 14;

/// Where a part starts to be heard, and how far it is from there to all of it, in dB.
const FLOOR_DB: f64 = -15.0;
const DEPTH_DB: f64 = 30.0;

/// What is left of words.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Words {
    /// With the noise alone, 0 to 1.
    pub in_noise: f64,
    /// With noise and decay, far from the talker and the loudspeakers.
    pub in_hall: Option<f64>,
}

/// Words at a microphone in the room, from its third-octaves and the decay time of the hall.
///
/// # Errors
///
/// [`Unmeasured::TooLittleActive`] under 20 s of talk; [`Unmeasured::Silent`] for digital silence.
pub fn words(
    thirds: &Thirds,
    talk: &[Span],
    quiet: &[Span],
    decay_s: Option<f64>,
) -> Result<Words, Unmeasured> {
    let have_s = total_s(talk);
    if have_s < NEEDS_S {
        return Err(Unmeasured::TooLittleActive { have_s, need_s: NEEDS_S });
    }
    let shares = OCTAVES.iter().map(|&(mid_hz, _)| speech_share(thirds, mid_hz, talk, quiet));
    let shares = shares.collect::<Result<Vec<f64>, Unmeasured>>()?;
    let index = |decay_s: f64| {
        let all: f64 = OCTAVES.iter().map(|octave| octave.1).sum();
        let octaves = shares.iter().zip(OCTAVES);
        octaves.map(|(&share, (_, weight))| weight * kept(share, decay_s)).sum::<f64>() / all
    };
    Ok(Words { in_noise: index(0.0), in_hall: decay_s.map(index) })
}

/// What is kept of words of which a share of the power is speech, in a hall that falls by 60 dB in `decay_s`; mean over their rates.
pub fn kept(share: f64, decay_s: f64) -> f64 {
    let part = |nth: u32| {
        let rate_hz = SLOWEST_HZ * 2f64.powf(f64::from(nth) / 3.0);
        let blur = std::f64::consts::TAU * rate_hz * decay_s / 13.8;
        let left = (share / (1.0 + blur * blur).sqrt()).clamp(1e-9, 1.0 - 1e-9);
        ((10.0 * (left / (1.0 - left)).log10() - FLOOR_DB) / DEPTH_DB).clamp(0.0, 1.0)
    };
    (0..N_RATES).map(part).sum::<f64>() / f64::from(N_RATES)
}

/// Share of the power in talk that is speech, in one octave.
fn speech_share(
    thirds: &Thirds,
    mid_hz: f64,
    talk: &[Span],
    quiet: &[Span],
) -> Result<f64, Unmeasured> {
    let of_octave = band_at(mid_hz).map(|mid| mid - 1..mid + 2);
    let bands = of_octave
        .and_then(|bands| thirds.bands.get(bands))
        .ok_or(Unmeasured::Because("the sample rate is too low"))?;
    let power = |step: usize| -> f64 { bands.iter().map(|band| band.power(step)).sum() };
    let powers = |spans: &[Span]| -> Vec<f64> {
        let firsts = spans.iter().flat_map(|span| firsts(*span, thirds.n_steps()));
        firsts.map(|first| (first..first + STEPS).map(power).sum()).collect()
    };
    let spoken = powers(talk);
    let mut all = powers(quiet);
    all.extend(&spoken);
    let noise = percentile(&all, QUIET).ok_or(Unmeasured::Silent)?;
    #[expect(clippy::cast_precision_loss, reason = "steps of an evening")]
    let mean = spoken.iter().sum::<f64>() / spoken.len().max(1) as f64;
    if mean <= 0.0 {
        return Err(Unmeasured::Silent);
    }
    Ok(((mean - noise) / mean).clamp(0.0, 1.0))
}

/// First steps of levels that lie inside a stretch.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a time in the session is not negative"
)]
fn firsts(span: Span, n_steps: usize) -> std::iter::StepBy<std::ops::Range<usize>> {
    let first = (span.start_s / STEP_S).ceil() as usize;
    let end = ((span.end_s / STEP_S).floor() as usize).min(n_steps);
    (first..end.saturating_sub(STEPS - 1).max(first)).step_by(STEPS)
}
