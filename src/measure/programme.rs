//! # Loudness of stretches and of channels together
//!
//! Windows, gates and sums on K-weighted powers in steps of 10 ms, while streaming and afterwards on traces.
//!
//! - **Formula:** as for loudness; powers of channels that sound together are added
//! - **Unit:** LUFS; LU for the range
//! - **Range:** about -70 to 0 LUFS
//! - **Source:** ITU-R BS.1770-5 annex 1, EBU Tech 3341, EBU Tech 3342
//! - **Window:** 400 ms and 3 s; gated blocks lie wholly inside a stretch and begin every 100 ms
//! - **No value:** the stretch is silent, too short, or never passes -70 LUFS
//! - **Misleads when:** a stretch is much shorter than 3 s: few blocks carry the figure. Traces are rounded to 0.0025 dB

use super::level::STEP_S;
use super::sliding::steps_inside;
use super::{Loudness, Trace};
use crate::dsp::gate::{integrated_lufs, loudness_lufs, range_lu};
use crate::unit::{Span, Unmeasured};

/// Steps in the momentary window, in the short-term window, and from one gated block to the next.
const MOMENTARY_STEPS: usize = 40;
const SHORT_TERM_STEPS: usize = 300;
const BLOCK_HOP_STEPS: usize = 10;

/// Windows in seconds, for the reasons given.
const MOMENTARY_S: f64 = 0.4;
const SHORT_TERM_S: f64 = 3.0;

/// Shortest recording whose range means something, in seconds: EBU Tech 3342 warns of short programmes, and with fewer
/// than about 200 values the percentiles rest on a handful.
pub const RANGE_NEEDS_S: f64 = 20.0;

/// Said where there is sound, but none above the absolute gate.
const NEVER_PASSES: Unmeasured = Unmeasured::Because("nothing is louder than the gate at -70 LUFS");

/// Gathers K-weighted powers of 10 ms steps.
///
/// Keeps the last 3 s, the running maxima, and one power of each 100 ms (80 bytes a second), from which all gated blocks
/// follow exactly. Windows are summed anew each time from sums of ten steps, as a running sum would drift.
#[derive(Clone, Debug)]
pub(super) struct Programme {
    n_steps: usize,
    /// Powers of the last ten steps.
    last: [f64; BLOCK_HOP_STEPS],
    /// Sums of ten steps, at the last 300 steps.
    tens: Vec<f64>,
    /// Sums of ten steps, one after the other.
    coarse: Vec<f32>,
    momentary_max: f64,
    short_term_max: f64,
}

impl Programme {
    /// Nothing so far.
    pub(super) fn new() -> Self {
        Self {
            n_steps: 0,
            last: [0.0; BLOCK_HOP_STEPS],
            tens: vec![0.0; SHORT_TERM_STEPS],
            coarse: Vec::new(),
            momentary_max: 0.0,
            short_term_max: 0.0,
        }
    }

    /// Adds the mean power of a step.
    pub(super) fn push(&mut self, power: f64) {
        self.last[self.n_steps % BLOCK_HOP_STEPS] = power;
        let ten: f64 = self.last.iter().sum();
        self.tens[self.n_steps % SHORT_TERM_STEPS] = ten;
        self.n_steps += 1;
        if self.n_steps.is_multiple_of(BLOCK_HOP_STEPS) {
            #[expect(clippy::cast_possible_truncation, reason = "a millionth of a decibel")]
            self.coarse.push(ten as f32);
        }
        if self.n_steps >= MOMENTARY_STEPS {
            self.momentary_max = self.momentary_max.max(self.window_power(MOMENTARY_STEPS));
        }
        if self.n_steps >= SHORT_TERM_STEPS {
            self.short_term_max = self.short_term_max.max(self.window_power(SHORT_TERM_STEPS));
        }
    }

    /// Mean power of the last steps.
    #[expect(clippy::cast_precision_loss, reason = "a window has few steps")]
    fn window_power(&self, window_steps: usize) -> f64 {
        let newest = self.n_steps - 1 + SHORT_TERM_STEPS;
        let tens = (0..window_steps).step_by(BLOCK_HOP_STEPS);
        let sum: f64 = tens.map(|back| self.tens[(newest - back) % SHORT_TERM_STEPS]).sum();
        sum / window_steps as f64
    }

    /// The figures of the whole.
    pub(super) fn finish(self, k_power: Trace) -> Loudness {
        let have_s = seconds(self.n_steps);
        let short = |need_s| Unmeasured::TooShort { have_s, need_s };
        let silent = self.tens.iter().all(|&power| power <= 0.0)
            && self.coarse.iter().all(|&power| power <= 0.0);
        let checked = |need_s, value: Option<f64>| match value {
            _ if silent => Err(Unmeasured::Silent),
            _ if have_s < need_s - STEP_S / 2.0 => Err(short(need_s)),
            value => value.ok_or(NEVER_PASSES),
        };
        let highest = |power: f64| (power > 0.0).then(|| loudness_lufs(power));
        let blocks = |n_hops: usize| {
            #[expect(clippy::cast_precision_loss, reason = "a window has few hops")]
            let scale = (n_hops * BLOCK_HOP_STEPS) as f64;
            let sum = |hops: &[f32]| hops.iter().copied().map(f64::from).sum::<f64>();
            let means = self.coarse.windows(n_hops).map(|hops| sum(hops) / scale);
            means.collect::<Vec<f64>>()
        };
        let momentary = blocks(MOMENTARY_STEPS / BLOCK_HOP_STEPS);
        let short_term = blocks(SHORT_TERM_STEPS / BLOCK_HOP_STEPS);
        Loudness {
            k_power,
            momentary_max_lufs: checked(MOMENTARY_S, highest(self.momentary_max)),
            short_term_max_lufs: checked(SHORT_TERM_S, highest(self.short_term_max)),
            integrated_lufs: checked(MOMENTARY_S, integrated_lufs(&momentary)),
            range_lu: checked(RANGE_NEEDS_S, range_lu(&short_term)),
        }
    }
}

/// Loudness of channels that sound together, each with a weight of 1, from their 10 ms traces.
///
/// # Panics
///
/// If there is no trace, or its step is not 10 ms.
pub fn together(k: &[&Trace]) -> Loudness {
    let mut sum = Trace::new(STEP_S);
    let mut programme = Programme::new();
    for step in 0..n_steps(k) {
        let power = power_at(k, step);
        sum.push_power(power);
        programme.push(power);
    }
    programme.finish(sum)
}

/// Integrated loudness of channels that sound together, within stretches of time, in LUFS.
///
/// # Errors
///
/// [`Unmeasured::TooShort`] if no block of 400 ms fits, [`Unmeasured::Silent`] or a reason if none passes the gates.
///
/// # Panics
///
/// If there is no trace, or its step is not 10 ms.
pub fn integrated_over(k: &[&Trace], spans: &[Span]) -> Result<f64, Unmeasured> {
    let n_steps = n_steps(k);
    let mut blocks = Vec::new();
    for &span in spans {
        let inside = steps_inside(span, STEP_S, n_steps);
        let powers: Vec<f64> = inside.map(|step| power_at(k, step)).collect();
        let windows = powers.windows(MOMENTARY_STEPS).step_by(BLOCK_HOP_STEPS);
        blocks.extend(windows.map(|window| window.iter().sum::<f64>() / 40.0));
    }
    if blocks.is_empty() {
        let have_s = spans.iter().map(|span| span.length_s()).fold(0.0, f64::max);
        return Err(Unmeasured::TooShort { have_s, need_s: MOMENTARY_S });
    }
    if blocks.iter().all(|&power| power <= 0.0) {
        return Err(Unmeasured::Silent);
    }
    integrated_lufs(&blocks).ok_or(NEVER_PASSES)
}

/// Momentary loudness of the 400 ms that end with a step, in LUFS; `None` in silence and where they begin too early.
///
/// # Panics
///
/// If there is no trace, or its step is not 10 ms.
pub fn momentary_lufs(k: &[&Trace], last_step: usize) -> Option<f64> {
    window_lufs(k, last_step, MOMENTARY_STEPS)
}

/// Short-term loudness of the 3 s that end with a step, in LUFS; `None` in silence and where they begin too early.
///
/// # Panics
///
/// If there is no trace, or its step is not 10 ms.
pub fn short_term_lufs(k: &[&Trace], last_step: usize) -> Option<f64> {
    window_lufs(k, last_step, SHORT_TERM_STEPS)
}

#[expect(clippy::cast_precision_loss, reason = "a window has few steps")]
fn window_lufs(k: &[&Trace], last_step: usize, window_steps: usize) -> Option<f64> {
    if last_step >= n_steps(k) {
        return None;
    }
    let first = (last_step + 1).checked_sub(window_steps)?;
    let sum: f64 = (first..=last_step).map(|step| power_at(k, step)).sum();
    (sum > 0.0).then(|| loudness_lufs(sum / window_steps as f64))
}

fn power_at(k: &[&Trace], step: usize) -> f64 {
    k.iter().map(|trace| trace.power(step)).sum()
}

/// Steps that all traces have.
fn n_steps(k: &[&Trace]) -> usize {
    assert!(!k.is_empty(), "loudness needs a channel");
    assert!(
        k.iter().all(|trace| (trace.step_s() - STEP_S).abs() < 1e-9),
        "loudness is taken from traces of {STEP_S} s"
    );
    k.iter().map(|trace| trace.len()).min().unwrap_or(0)
}

#[expect(clippy::cast_precision_loss, reason = "a count of steps is far below 2^52")]
fn seconds(n_steps: usize) -> f64 {
    n_steps as f64 * STEP_S
}
