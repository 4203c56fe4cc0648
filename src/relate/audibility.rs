//! # Audibility of a voice
//!
//! How much of a voice stands out of what else is in the mix, by third-octave.
//!
//! - **Formula:** `a = clip((10 lg(voice / others) + 15) / 30, 0, 1)` by second and third-octave in which the voice sounds, mean over the seconds; index:
//!   mean over the third-octaves from 800 Hz to 4 kHz, weighted by their importance for speech
//! - **Unit:** 0 (covered) to 1 (free)
//! - **Source:** the band-audibility step and the importances (table 3) of ANSI S3.5-1997, from memory; no hearing threshold, no spread of
//!   masking, no level in the hall: it is not the index of that standard
//! - **Window:** seconds of a song in which the voice sounds for two thirds or more
//! - **No value:** fewer than ten such seconds
//! - **Misleads when:** the hall or the stage adds what is not in the mix

use super::board::Board;
use super::grid::{bands_between, middle_hz};
use super::shares::Powers;
use crate::unit::spans::shared_s;
use crate::unit::{Span, Unmeasured};

/// Importance of the third-octaves from 800 Hz to 4 kHz.
const IMPORTANCE: [f64; 8] = [0.0711, 0.0818, 0.0844, 0.0882, 0.0898, 0.0868, 0.0844, 0.0771];

/// Ends of that range, in Hz.
const RANGE_HZ: [f64; 2] = [720.0, 4400.0];

/// Where a third-octave starts to be heard, and how far it is from there to all of it, in dB.
const FLOOR_DB: f64 = -15.0;
const DEPTH_DB: f64 = 30.0;

/// Seconds that are needed.
const NEEDS_S: usize = 10;

/// Share of a second in which the voice has to sound.
const SOUNDS: f64 = 2.0 / 3.0;

/// How a voice stands out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Audibility {
    /// Mean over the third-octaves, 0 to 1.
    pub index: f64,
    /// Middle of the third-octave in which it is covered most, in Hz.
    pub covered_hz: f64,
    /// The line that gives most there.
    pub covered_by: Option<usize>,
}

/// Audibility of the lines of a voice among others in a stretch.
///
/// # Errors
///
/// [`Unmeasured::TooLittleActive`] below ten seconds in which the voice sounds.
#[expect(clippy::cast_precision_loss, reason = "seconds and bands are few")]
pub fn audibility(
    board: &Board,
    voice: &[usize],
    others: &[usize],
    within: Span,
    sounds: &[Span],
) -> Result<Audibility, Unmeasured> {
    let bands = bands_between(RANGE_HZ[0], RANGE_HZ[1]);
    let (mut sums, mut n) = (vec![0.0; bands.len()], 0usize);
    let mut by_line = vec![vec![0.0f64; others.len()]; bands.len()];
    for (second, told) in board.seconds.iter().enumerate() {
        let span = Span::new(second as f64, second as f64 + 1.0);
        let is_inside = within.start_s <= span.start_s && span.end_s <= within.end_s;
        let Some(told) = told.as_ref().filter(|_| is_inside) else { continue };
        if shared_s(sounds, span) < SOUNDS {
            continue;
        }
        n += 1;
        let given = |lines: &[usize]| -> Vec<Powers> {
            lines.iter().map(|&line| told.of_line(line)).collect()
        };
        let (of_voice, of_others) = (given(voice), given(others));
        for (place, band) in bands.clone().enumerate() {
            let power = |powers: &Powers| f64::from(powers[band]);
            let own: f64 = of_voice.iter().map(power).sum();
            let rest: f64 = of_others.iter().map(power).sum();
            let over_db = 10.0 * ((own + f64::MIN_POSITIVE) / (rest + f64::MIN_POSITIVE)).log10();
            sums[place] += ((over_db - FLOOR_DB) / DEPTH_DB).clamp(0.0, 1.0);
            by_line[place].iter_mut().zip(&of_others).for_each(|(sum, one)| *sum += power(one));
        }
    }
    if n < NEEDS_S {
        return Err(Unmeasured::TooLittleActive { have_s: n as f64, need_s: NEEDS_S as f64 });
    }
    let all: f64 = IMPORTANCE.iter().sum();
    let weighted = sums.iter().zip(IMPORTANCE).map(|(sum, weight)| sum / n as f64 * weight);
    let index = weighted.sum::<f64>() / all;
    let worst = (0..sums.len()).min_by(|&a, &b| sums[a].total_cmp(&sums[b])).unwrap_or(0);
    let loudest =
        (0..others.len()).max_by(|&a, &b| by_line[worst][a].total_cmp(&by_line[worst][b]));
    Ok(Audibility {
        index,
        covered_hz: middle_hz(bands.start + worst),
        covered_by: loudest.map(|place| others[place]).filter(|line| *line < board.lines.len()),
    })
}
