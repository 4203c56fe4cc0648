//! A level over time in equal steps, held as 16-bit numbers or fewer.
//!
//! Takes the mean square (or squared peak) of each step, gives it back as decibels or power within 0.005 dB. Less than two bytes
//! a step keep an hour of 32 channels small. Never holds a value that is not a number.

mod packed;

use std::sync::LazyLock;

use packed::{PIECE, Packed};

/// Level of the lowest code, in dB: anything below, and silence, reads as this.
pub const FLOOR_DB: f64 = -220.0;

/// Size of a code, in dB.
const CODE_DB: f64 = 0.01;

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
        FLOOR_DB + CODE_DB * f64::from(self.code(step))
    }

    /// Power of a step, re full scale squared; 0 for silence.
    ///
    /// # Panics
    ///
    /// If there is no such step.
    pub fn power(&self, step: usize) -> f64 {
        match self.code(step) {
            0 => 0.0,
            code => {
                let [coarse, fine] = &*POWERS;
                coarse[usize::from(code >> 8)] * fine[usize::from(code & 255)]
            }
        }
    }

    fn code(&self, step: usize) -> u16 {
        match self.full.get(step / PIECE) {
            Some(piece) => piece.code(step % PIECE),
            None => self.last[step - self.full.len() * PIECE],
        }
    }

    /// Powers of all steps, in order.
    pub fn powers(&self) -> impl Iterator<Item = f64> + '_ {
        (0..self.len()).map(|step| self.power(step))
    }

    /// Mean power of the steps from `from` to before `to`, as far as they exist; 0 where none does.
    pub fn mean_power(&self, from: usize, to: usize) -> f64 {
        let to = to.min(self.len());
        if from >= to {
            return 0.0;
        }
        #[expect(clippy::cast_precision_loss, reason = "a count of steps is far below 2^52")]
        let n_steps = (to - from) as f64;
        (from..to).map(|step| self.power(step)).sum::<f64>() / n_steps
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
