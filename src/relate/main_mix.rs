//! # The main mix over time
//!
//! What the mix that the audience hears does from segment to segment: its loudness in mono, its lean to one side, jumps at
//! borders, songs against talk, a rise over the evening, a squashed sound.
//!
//! - **Formula:** mono fold: loudness of `(L+R)/2` on both sides minus loudness of L and R over the same stretches; lean:
//!   loudness of L minus loudness of R in each 60 s block, median; jump: loudness of the 3 s after a border minus that of
//!   the 3 s before; creep: least-squares slope of song loudness over the middle of each song; squashed: share of 3 s windows
//!   within songs whose crest factor lies below 8 dB
//! - **Unit:** LU; LU; LU; dB an hour; percent
//! - **Range:** mono fold -20 (one side inverted) to 0 (mono); uncorrelated sides give -3
//! - **Source:** ITU-R BS.1770 for loudness; borders and windows are common practice
//! - **Window:** stretches given by the caller
//! - **No value:** a stretch that is too short or silent; fewer than four songs or 40 minutes for the creep
//! - **Misleads when:** the record output has its own trim or limiter

use crate::dsp::percentile::median;
use crate::measure::Trace;
use crate::measure::crest;
use crate::measure::level::Levels;
use crate::measure::programme::integrated_over;
use crate::unit::{Span, Unmeasured};

/// Length of a block of the lean, in seconds.
const LEAN_BLOCK_S: f64 = 60.0;

/// Lean that counts as far, in LU.
const FAR_LEAN_LU: f64 = 3.0;

/// Time on either side of a border, in seconds: short-term loudness.
const BORDER_S: f64 = 3.0;

/// Songs and time that a slope over the evening needs.
const CREEP_NEEDS_SONGS: usize = 4;
const CREEP_NEEDS_S: f64 = 40.0 * 60.0;

/// Crest factor below which a mix is squashed, in dB, and the window in which it is taken, in seconds.
const SQUASHED_CREST_DB: f64 = 8.0;
const CREST_WINDOW_S: f64 = 3.0;

/// Loudness in mono minus loudness in stereo over some stretches, in LU. `mid` is the K-weighted power of `(L+R)/2`.
///
/// # Errors
///
/// [`Unmeasured::TooShort`], [`Unmeasured::Silent`] or a reason if nothing passes the gates.
pub fn mono_fold_lu(
    left: &Trace,
    right: &Trace,
    mid: &Trace,
    spans: &[Span],
) -> Result<f64, Unmeasured> {
    let stereo = integrated_over(&[left, right], spans)?;
    Ok(integrated_over(&[mid, mid], spans)? - stereo)
}

/// Power in mono over power in stereo of some stretches, in dB, from powers of a band in steps.
///
/// # Errors
///
/// [`Unmeasured::Silent`] if one of them is.
pub fn mono_fold_of_powers_db(left: f64, right: f64, mid: f64) -> Result<f64, Unmeasured> {
    let stereo = left + right;
    if stereo > 0.0 && mid > 0.0 {
        Ok(10.0 * (2.0 * mid / stereo).log10())
    } else {
        Err(Unmeasured::Silent)
    }
}

/// How far the mix leans.
#[derive(Clone, Debug, PartialEq)]
pub struct Lean {
    /// Loudness of left minus right, median of 60 s blocks, in LU.
    pub median_lu: f64,
    /// Time in blocks whose difference is above 3 LU in size, in seconds.
    pub far_s: f64,
}

/// How far the mix leans to one side.
///
/// # Errors
///
/// A reason if one side is silent throughout, [`Unmeasured::TooShort`] if no block holds sound on both.
pub fn lean(left: &Trace, right: &Trace) -> Result<Lean, Unmeasured> {
    #[expect(clippy::cast_precision_loss, reason = "a count of steps is far below 2^52")]
    let duration_s = left.len().min(right.len()) as f64 * left.step_s();
    let is_silent = |side: &Trace| side.mean_power(0, side.len()) <= 0.0;
    if is_silent(left) || is_silent(right) {
        return Err(Unmeasured::Because("one side of the main mix is silent"));
    }
    let mut differences = Vec::new();
    let mut far_s = 0.0;
    let mut start_s = 0.0;
    while start_s < duration_s {
        let block = Span::new(start_s, (start_s + LEAN_BLOCK_S).min(duration_s));
        start_s += LEAN_BLOCK_S;
        let sides = integrated_over(&[left], &[block])
            .and_then(|of_left| Ok(of_left - integrated_over(&[right], &[block])?));
        if let Ok(difference_lu) = sides {
            differences.push(difference_lu);
            if difference_lu.abs() > FAR_LEAN_LU {
                far_s += block.length_s();
            }
        }
    }
    let median_lu = median(&differences)
        .ok_or(Unmeasured::TooShort { have_s: duration_s, need_s: LEAN_BLOCK_S })?;
    Ok(Lean { median_lu, far_s })
}

/// Loudness of the 3 s after a border minus that of the 3 s before, in LU. Neither looks beyond its own stretch.
///
/// # Errors
///
/// [`Unmeasured::TooShort`] if a stretch lasts less than 3 s, or a reason if one passes no gate.
pub fn jump_lu(k: &[&Trace], before: Span, after: Span) -> Result<f64, Unmeasured> {
    let have_s = before.length_s().min(after.length_s());
    if have_s < BORDER_S {
        return Err(Unmeasured::TooShort { have_s, need_s: BORDER_S });
    }
    let ending = Span::new(before.end_s - BORDER_S, before.end_s);
    let beginning = Span::new(after.start_s, after.start_s + BORDER_S);
    Ok(integrated_over(k, &[beginning])? - integrated_over(k, &[ending])?)
}

/// Slope of song loudness over the evening, in dB an hour, from the middle of each song in seconds and its loudness.
///
/// # Errors
///
/// [`Unmeasured::TooFewEvents`] below four songs, [`Unmeasured::TooShort`] if they span less than 40 minutes.
#[expect(clippy::cast_precision_loss, reason = "a count of songs is small")]
pub fn creep_db_per_hour(songs: &[(f64, f64)]) -> Result<f64, Unmeasured> {
    if songs.len() < CREEP_NEEDS_SONGS {
        return Err(Unmeasured::TooFewEvents { have: songs.len(), need: CREEP_NEEDS_SONGS });
    }
    let have_s = songs[songs.len() - 1].0 - songs[0].0;
    if have_s < CREEP_NEEDS_S {
        return Err(Unmeasured::TooShort { have_s, need_s: CREEP_NEEDS_S });
    }
    let n_songs = songs.len() as f64;
    let mid_s = songs.iter().map(|song| song.0).sum::<f64>() / n_songs;
    let mid_lufs = songs.iter().map(|song| song.1).sum::<f64>() / n_songs;
    let rise: f64 = songs.iter().map(|song| (song.0 - mid_s) * (song.1 - mid_lufs)).sum();
    let run: f64 = songs.iter().map(|song| (song.0 - mid_s).powi(2)).sum();
    Ok(3600.0 * rise / run)
}

/// Share of the 3 s windows within songs whose crest factor lies below 8 dB, 0 to 100.
///
/// # Errors
///
/// [`Unmeasured::TooShort`] if no window lies within a song.
#[expect(clippy::cast_precision_loss, reason = "a count of windows is far below 2^52")]
pub fn squashed_percent(levels: &Levels, songs: &[Span]) -> Result<f64, Unmeasured> {
    let inside = |window: usize| {
        let (start_s, end_s) =
            (window as f64 * CREST_WINDOW_S, (window + 1) as f64 * CREST_WINDOW_S);
        songs.iter().any(|song| song.start_s <= start_s && end_s <= song.end_s)
    };
    let course = crest::course_db(levels, CREST_WINDOW_S);
    let crests: Vec<f64> = course
        .into_iter()
        .enumerate()
        .filter_map(|(window, crest_db)| crest_db.filter(|_| inside(window)))
        .collect();
    if crests.is_empty() {
        return Err(Unmeasured::TooShort { have_s: 0.0, need_s: CREST_WINDOW_S });
    }
    let n_squashed = crests.iter().filter(|&&crest_db| crest_db < SQUASHED_CREST_DB).count();
    Ok(100.0 * n_squashed as f64 / crests.len() as f64)
}
