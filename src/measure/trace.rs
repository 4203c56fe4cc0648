//! A level over time in equal steps, held as 16-bit numbers or fewer.
//!
//! Takes the mean square (or squared peak) of each step, gives it back as decibels or power within 0.0025 dB. Less than two bytes
//! a step keep an hour of 32 channels small. Never holds a value that is not a number.

mod packed;

use std::ops::Range;
use std::sync::LazyLock;

use packed::{PIECE, Packed};

/// Level of the lowest code, in dB: anything below, and silence, reads as this.
pub const FLOOR_DB: f64 = -220.0;

/// Size of a code, in dB.
const CODE_DB: f64 = 0.005;

/// Power of each 256th code, and what 0 to 255 codes more multiply it by: a power is asked for millions of times.
static POWERS: LazyLock<[[f64; 256]; 2]> = LazyLock::new(|| {
    let power = |level_db: f64| 10f64.powf(level_db / 10.0);
    let codes: [f64; 256] = std::array::from_fn(|code| code as f64);
    [
        codes.map(|code| power(FLOOR_DB + 256.0 * CODE_DB * code)),
        codes.map(|code| power(CODE_DB * code)),
    ]
});

/// A level over time in equal steps. Step `i` covers `i * step_s()` to `(i + 1) * step_s()` of the session.
#[derive(Clone, Debug, PartialEq)]
pub struct Trace {
    step_s: f64,
    /// Pieces stay where they are: one that grew would leave holes behind and room unused.
    full: Vec<Packed>,
    /// What comes behind them, less than a piece.
    last: Vec<u16>,
}

impl Trace {
    /// An empty trace.
    ///
    /// # Panics
    ///
    /// If the step is not above 0.
    pub fn new(step_s: f64) -> Self {
        assert!(step_s > 0.0, "a step takes time, found {step_s} s");
        Self { step_s, full: Vec::new(), last: Vec::new() }
    }

    /// Adds a step by its power: a mean square, re full scale squared.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "the value is clamped to 0..=65535 and not a number"
    )]
    pub fn push_power(&mut self, power: f64) {
        let level_db = 10.0 * power.max(1e-30).log10();
        let code = ((level_db - FLOOR_DB) / CODE_DB).round().clamp(0.0, 65535.0) as u16;
        if self.last.is_empty() {
            self.last.reserve_exact(PIECE);
        }
        self.last.push(code);
        if let Ok(piece) = self.last.as_slice().try_into() {
            self.full.push(Packed::new(piece));
            self.last.clear();
        }
    }

    /// Length of a step, in seconds.
    pub fn step_s(&self) -> f64 {
        self.step_s
    }

    /// How many steps.
    pub fn len(&self) -> usize {
        self.full.len() * PIECE + self.last.len()
    }

    /// Whether there are no steps.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Steps from the begin to a time, to the nearest; 0 before the begin. There may be no such step.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "not negative and far below 2^52"
    )]
    pub fn step_at(&self, time_s: f64) -> usize {
        (time_s / self.step_s()).round().max(0.0) as usize
    }

    /// Level of a step, in dB; [`FLOOR_DB`] for silence.
    ///
    /// # Panics
    ///
    /// If there is no such step.
    pub fn level_db(&self, step: usize) -> f64 {
        level_of_db(self.code(step))
    }

    /// Power of a step, re full scale squared; 0 for silence.
    ///
    /// # Panics
    ///
    /// If there is no such step.
    pub fn power(&self, step: usize) -> f64 {
        power_of(self.code(step), &POWERS)
    }

    fn code(&self, step: usize) -> u16 {
        match self.full.get(step / PIECE) {
            Some(piece) => piece.code(step % PIECE),
            None => self.last[step - self.full.len() * PIECE],
        }
    }

    /// Gives the codes of steps that follow each other, in order.
    fn each_code(&self, steps: Range<usize>, mut take: impl FnMut(u16)) {
        let mut from = steps.start;
        while from < steps.end {
            let (piece, within) = (from / PIECE, from % PIECE);
            let Some(full) = self.full.get(piece) else { break };
            let to = ((piece + 1) * PIECE).min(steps.end);
            full.each(within..within + to - from, &mut take);
            from = to;
        }
        let behind = self.full.len() * PIECE;
        if from < steps.end {
            self.last[from - behind..steps.end - behind].iter().for_each(|&code| take(code));
        }
    }

    /// Gives the powers of steps that follow each other, in order: quicker than to ask for one after the other.
    ///
    /// # Panics
    ///
    /// If there are no such steps.
    pub fn each_power(&self, steps: Range<usize>, mut take: impl FnMut(f64)) {
        let powers = &*POWERS;
        self.each_code(steps, |code| take(power_of(code, powers)));
    }

    /// Powers of all steps, in order.
    pub fn powers(&self) -> impl Iterator<Item = f64> {
        self.powers_in(0..self.len()).into_iter()
    }

    /// Powers of steps that follow each other.
    ///
    /// # Panics
    ///
    /// If there are no such steps.
    pub fn powers_in(&self, steps: Range<usize>) -> Vec<f64> {
        let mut powers = Vec::with_capacity(steps.len());
        self.each_power(steps, |power| powers.push(power));
        powers
    }

    /// Levels of steps that follow each other, in dB.
    ///
    /// # Panics
    ///
    /// If there are no such steps.
    pub fn levels_in_db(&self, steps: Range<usize>) -> Vec<f64> {
        let mut levels = Vec::with_capacity(steps.len());
        self.each_code(steps, |code| levels.push(level_of_db(code)));
        levels
    }

    /// Highest level of steps that follow each other, in dB; [`FLOOR_DB`] where there are none.
    ///
    /// # Panics
    ///
    /// If there are no such steps.
    pub fn highest_db(&self, steps: Range<usize>) -> f64 {
        let mut highest = 0;
        self.each_code(steps, |code| highest = highest.max(code));
        level_of_db(highest)
    }

    /// Mean power of the steps from `from` to before `to`, as far as they exist; 0 where none does.
    pub fn mean_power(&self, from: usize, to: usize) -> f64 {
        let to = to.min(self.len());
        if from >= to {
            return 0.0;
        }
        #[expect(clippy::cast_precision_loss, reason = "a count of steps is far below 2^52")]
        let n_steps = (to - from) as f64;
        let mut sum = 0.0;
        self.each_power(from..to, |power| sum += power);
        sum / n_steps
    }

    /// Mean power of the `reach` steps before each step and of as many from it on, as far as they exist.
    ///
    /// Each sum is taken from its first step to its last. Many are summed side by side: a single one would wait for each addition.
    ///
    /// # Panics
    ///
    /// If the reach is 0.
    #[expect(clippy::cast_precision_loss, reason = "a count of steps is far below 2^52")]
    pub fn mean_powers_around(&self, reach: usize) -> Vec<f64> {
        /// Sums that stay in the nearest memory.
        const BLOCK: usize = 1024;
        assert!(reach > 0, "a mean is taken over one step at least");
        let (powers, n) = (self.powers_in(0..self.len()), self.len());
        let mut means = vec![0.0; n];
        for start in (0..n).step_by(BLOCK) {
            let end = (start + BLOCK).min(n);
            for ahead in 0..2 * reach {
                let from = start.max(reach.saturating_sub(ahead));
                let to = end.min((n + reach).saturating_sub(ahead));
                if from < to {
                    let shifted = &powers[from + ahead - reach..to + ahead - reach];
                    means[from..to].iter_mut().zip(shifted).for_each(|(sum, power)| *sum += power);
                }
            }
            for (at, mean) in (start..end).zip(&mut means[start..end]) {
                *mean /= ((at + reach).min(n) - at.saturating_sub(reach)) as f64;
            }
        }
        means
    }

    /// The trace with `factor` steps joined into one (mean power); a rest of fewer steps is dropped.
    ///
    /// # Panics
    ///
    /// If the factor is 0.
    pub fn coarser(&self, factor: usize) -> Self {
        assert!(factor > 0, "steps are joined in groups of at least one");
        #[expect(clippy::cast_precision_loss, reason = "a factor is small")]
        let mut joined = Self::new(self.step_s * factor as f64);
        for group in 0..self.len() / factor {
            joined.push_power(self.mean_power(group * factor, (group + 1) * factor));
        }
        joined
    }

    /// Bytes that the steps take.
    pub fn n_bytes(&self) -> usize {
        self.full.iter().map(Packed::n_bytes).sum::<usize>() + size_of_val(&*self.last)
    }
}

fn level_of_db(code: u16) -> f64 {
    FLOOR_DB + CODE_DB * f64::from(code)
}

/// Power of a code by [`POWERS`].
fn power_of(code: u16, [coarse, fine]: &[[f64; 256]; 2]) -> f64 {
    match code {
        0 => 0.0,
        code => coarse[usize::from(code >> 8)] * fine[usize::from(code & 255)],
    }
}
