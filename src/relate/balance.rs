//! # Balance
//!
//! How loud some channels are in the mix against others, while one of them sounds.
//!
//! - **Formula:** powers of what channels give to both sides of the mix, weighted by third-octaves (K, or a range of frequencies), in
//!   windows of 3 s every second; `10 lg` of their quotient; a window counts if the source sounds in two thirds of it
//! - **Unit:** LU where weighted by K, dB else
//! - **Range:** -40 to 40
//! - **Source:** ITU-R BS.1770 for K, at the middles of third-octaves; the ratio of lead voice to accompaniment as in K. Gerdes, K. Siedenburg,
//!   JASA Express Letters 3, 2023; windows are common practice
//! - **Window:** 3 s, in a song or a talk
//! - **No value:** fewer than five windows, or one of them gives nothing
//! - **Misleads when:** the explained share is low, or something that was not recorded plays along

use super::board::{Board, Ear, place, power_between};
use super::shares::Powers;
use crate::dsp::percentile::median;
use crate::unit::spans::shared_s;
use crate::unit::{Span, Unmeasured};

/// Length of a window, in seconds.
pub const WINDOW_S: f64 = 3.0;

/// Share of a window in which the source has to sound.
const SOUNDS: f64 = 2.0 / 3.0;

/// Fewest windows.
const NEEDS_WINDOWS: usize = 5;

/// Levels of all lines, second by second, as power; behind them what no channel explains, and what lead voices are heard against.
#[derive(Clone, Debug)]
pub struct Levels {
    /// Of each line, second by second; none where nothing was read.
    lines: Vec<Vec<Option<f64>>>,
}

/// A window.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Window {
    /// When.
    pub span: Span,
    /// One over the other, in dB.
    pub over_db: f64,
}

impl Levels {
    /// Levels as the ear weighs them.
    pub fn loudness(board: &Board) -> Self {
        let ear = Ear::new();
        Self::new(board, |powers| ear.power(powers))
    }

    /// Levels between two frequencies, in Hz.
    pub fn between(board: &Board, low_hz: f64, high_hz: f64) -> Self {
        Self::new(board, |powers| power_between(powers, low_hz, high_hz))
    }

    fn new(board: &Board, weigh: impl Fn(&Powers) -> f64) -> Self {
        let of_line = |line: usize| {
            board
                .seconds
                .iter()
                .map(|second| Some(weigh(&second.as_ref()?.of_line(line))))
                .collect()
        };
        Self { lines: (0..=board.backing()).map(of_line).collect() }
    }

    /// Power of some lines together over a window; none where part of it was not read.
    fn power(&self, lines: &[usize], window: Span) -> Option<f64> {
        let (first, end) = (place(window.start_s), place(window.end_s));
        let of_second = |second: usize| -> Option<f64> {
            lines.iter().map(|&line| self.lines[line].get(second).copied().flatten()).sum()
        };
        (first..end).map(of_second).sum()
    }

    /// Some lines over others in all windows within a stretch in which a source sounds.
    pub fn over(
        &self,
        lines: &[usize],
        others: &[usize],
        within: Span,
        sounds: &[Span],
    ) -> Vec<Window> {
        let mut windows = Vec::new();
        let mut start_s = within.start_s.ceil();
        while start_s + WINDOW_S <= within.end_s {
            let span = Span::new(start_s, start_s + WINDOW_S);
            start_s += 1.0;
            if shared_s(sounds, span) < SOUNDS * WINDOW_S {
                continue;
            }
            let pair = self.power(lines, span).zip(self.power(others, span));
            if let Some((one, other)) = pair.filter(|pair| pair.0 > 0.0 && pair.1 > 0.0) {
                windows.push(Window { span, over_db: 10.0 * (one / other).log10() });
            }
        }
        windows
    }

    /// Power of some lines over a stretch, mean of its seconds.
    pub fn mean(&self, lines: &[usize], within: Span) -> Option<f64> {
        let whole = Span::new(within.start_s.ceil(), within.end_s.floor());
        (whole.length_s() >= 1.0).then(|| self.power(lines, whole))?
    }
}

/// What windows say, if there are enough of them.
fn levels_db(windows: &[Window]) -> Result<Vec<f64>, Unmeasured> {
    are_enough(windows)?;
    Ok(windows.iter().map(|window| window.over_db).collect())
}

fn are_enough(windows: &[Window]) -> Result<(), Unmeasured> {
    if windows.len() < NEEDS_WINDOWS {
        return Err(Unmeasured::TooFewEvents { have: windows.len(), need: NEEDS_WINDOWS });
    }
    Ok(())
}

/// Median of windows, in dB.
///
/// # Errors
///
/// [`Unmeasured::TooFewEvents`] below five windows.
pub fn usual_db(windows: &[Window]) -> Result<f64, Unmeasured> {
    median(&levels_db(windows)?).ok_or(Unmeasured::NeverActive)
}

/// Mean of the middle half of windows, in dB: unlike their median it does not step where few windows lie between two kinds of passages.
///
/// # Errors
///
/// [`Unmeasured::TooFewEvents`] below five windows.
#[expect(clippy::cast_precision_loss, reason = "a song has few windows")]
pub fn middle_db(windows: &[Window]) -> Result<f64, Unmeasured> {
    let mut levels = levels_db(windows)?;
    levels.sort_by(f64::total_cmp);
    let aside = levels.len() / 4;
    let half = &levels[aside..levels.len() - aside];
    Ok(half.iter().sum::<f64>() / half.len() as f64)
}

/// Share of windows for which something holds, 0 to 100.
///
/// # Errors
///
/// [`Unmeasured::TooFewEvents`] below five windows.
#[expect(clippy::cast_precision_loss, reason = "a song has few windows")]
pub fn share_percent(
    windows: &[Window],
    holds: impl Fn(&Window) -> bool,
) -> Result<f64, Unmeasured> {
    are_enough(windows)?;
    let n = windows.iter().filter(|window| holds(window)).count();
    Ok(100.0 * n as f64 / windows.len() as f64)
}

/// Stretches of the windows for which something holds, those that meet joined.
pub fn stretches(windows: &[Window], holds: impl Fn(&Window) -> bool) -> Vec<Span> {
    let mut joined: Vec<Span> = Vec::new();
    for window in windows.iter().filter(|window| holds(window)) {
        match joined.last_mut() {
            Some(last) if window.span.start_s <= last.end_s => last.end_s = window.span.end_s,
            _ => joined.push(window.span),
        }
    }
    joined
}

/// What the windows of a stretch say, second by second from its first whole second on: the window that begins there, none where
/// there is none.
pub fn each_second(windows: &[Window], within: Span) -> Vec<Option<f64>> {
    let first_s = within.start_s.ceil();
    let mut course = Vec::new();
    for window in windows {
        course.resize(place(window.span.start_s - first_s), None);
        course.push(Some(window.over_db));
    }
    course
}
