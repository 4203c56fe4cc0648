//! # Stage against loudspeakers in the hall
//!
//! How much of what a hall microphone hears comes straight from the stage and not from the loudspeakers.
//!
//! - **Formula:** third-octaves from 250 Hz to 4 kHz. Where nothing but the loudspeakers sounds, `g = (room - noise)/main` by band; in a
//!   song the loudspeakers give `p = sum g main` and the stage the rest, `10 lg((sum (room - noise) - p)/p)`, for `p` 1.5 dB more and
//!   less
//! - **Unit:** dB
//! - **Range:** -10 to 20 dB, told as a range
//! - **Source:** powers of what is not coherent add up; late sound counts as the loudspeakers', for it is in `g` too. In the built-in
//!   hall 9.4, 5.6 and 6.9 dB for 9.5, 6.4 and 5.2 dB
//! - **Window:** steps of 0.2 s of a song; of a recording that is played, 8 s or more, or else of talk
//! - **No value:** neither of them was heard, or fewer than half of the bands stand 6 dB over the noise of the hall
//! - **Misleads when:** the audience sings or claps; the loudspeakers' level was changed behind the recorded mix; a talker who is heard
//!   without loudspeakers too makes the stage seem softer: from talk alone the figure is a lower bound

use std::ops::Range;

use super::sliding::steps_inside;
use super::thirds::{STEP_S, Thirds};
use crate::unit::spans::total_s;
use crate::unit::{Span, Unmeasured};

/// Third-octaves from 250 Hz to 4 kHz.
const BANDS: Range<usize> = 10..23;

/// Time in which nothing but the loudspeakers sounds, in seconds.
const NEEDS_S: f64 = 8.0;

/// A band counts where it stands so far over the noise: 6 dB.
const OVER_NOISE: f64 = 4.0;

/// How well the gain is known: width of the mix and place of the microphone move it by 1.5 dB.
const WITHIN: f64 = 1.41;

/// How loudspeakers reach a hall microphone, as powers by band.
#[derive(Clone, Debug, PartialEq)]
pub struct Loudspeakers {
    /// Room re main, where the band stands over the noise.
    gains: Vec<Option<f64>>,
    /// Of the hall, by band.
    noise: Vec<f64>,
}

impl Loudspeakers {
    /// Finds it where nothing but the loudspeakers sounds; `mains` are the sides of the main mix.
    ///
    /// # Errors
    ///
    /// [`Unmeasured::TooShort`] below 8 s, a reason if the noise of the hall hides the bands.
    pub fn of(
        room: &Thirds,
        mains: &[&Thirds],
        alone: &[Span],
        quiet: &[Span],
    ) -> Result<Self, Unmeasured> {
        let have_s = total_s(alone);
        if have_s < NEEDS_S {
            return Err(Unmeasured::TooShort { have_s, need_s: NEEDS_S });
        }
        let noise: Vec<f64> =
            BANDS.map(|band| mean(room, band, quiet).unwrap_or_default()).collect();
        let gain = |(band, noise): (usize, &f64)| {
            let heard = mean(room, band, alone)?;
            let played = sides(mains, band, alone)?;
            (played > 0.0 && heard > OVER_NOISE * noise).then(|| (heard - noise) / played)
        };
        let gains: Vec<Option<f64>> = BANDS.zip(&noise).map(gain).collect();
        if 2 * gains.iter().flatten().count() < gains.len() {
            return Err(Unmeasured::Because("the noise of the hall hides the loudspeakers"));
        }
        Ok(Self { gains, noise })
    }

    /// Low and high end of stage minus loudspeakers in a stretch, in dB; the low end may be minus infinity.
    ///
    /// # Errors
    ///
    /// A reason if the main mix is silent there.
    pub fn stage_db(
        &self,
        room: &Thirds,
        mains: &[&Thirds],
        song: Span,
    ) -> Result<[f64; 2], Unmeasured> {
        let (mut heard, mut played) = (0.0, 0.0);
        for ((band, gain), noise) in BANDS.zip(&self.gains).zip(&self.noise) {
            let both = mean(room, band, &[song]).zip(sides(mains, band, &[song]));
            if let (Some(gain), Some((room, main))) = (gain, both) {
                heard += (room - noise).max(0.0);
                played += gain * main;
            }
        }
        if played <= 0.0 {
            return Err(Unmeasured::Because("the main mix is silent there"));
        }
        let over_db = |played: f64| 10.0 * ((heard - played).max(0.0) / played).log10();
        Ok([over_db(played * WITHIN), over_db(played / WITHIN)])
    }
}

/// Power of both sides of the main mix in a band.
fn sides(mains: &[&Thirds], band: usize, spans: &[Span]) -> Option<f64> {
    mains.iter().map(|side| mean(side, band, spans)).sum()
}

/// Mean power of a band over stretches.
fn mean(thirds: &Thirds, band: usize, spans: &[Span]) -> Option<f64> {
    let trace = thirds.bands.get(band)?;
    let steps = spans.iter().flat_map(|span| steps_inside(*span, STEP_S, trace.len()));
    let (n, sum) = steps.fold((0_u32, 0.0), |(n, sum), step| (n + 1, sum + trace.power(step)));
    (n > 0).then(|| sum / f64::from(n))
}
