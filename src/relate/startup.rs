//! # Start of a further recorder
//!
//! How much later sound stands in the files of one recorder than in those of another, to some hundredths of a second.
//!
//! - **Formula:** rises of the level from one 10 ms step to the next, 0 to 12 dB, less their mean; cross-correlation of both recorders over at most
//!   ten minutes, normalised by the power of what overlaps; its largest value within 300 s
//! - **Unit:** s, positive: later in the second
//! - **Source:** common practice; borders by own trials
//! - **Window:** the ten minutes in which the second rises most
//! - **No value:** less than 30 s in common, or no value 1.3 times as high as all others that lie half a second and more away
//! - **Misleads when:** what is played repeats itself exactly, as a machine does

use realfft::RealFftPlanner;
use realfft::num_complex::Complex64;

use crate::measure::Trace;

/// Farthest start, in seconds.
const FAR_S: f64 = 300.0;

/// What is looked at, in seconds: a clock that is off by 100 ppm moves by 60 ms meanwhile.
const LOOKED_AT_S: f64 = 600.0;

/// Least time in common, in seconds.
const NEEDS_S: f64 = 30.0;

/// A rise of more counts as this, in dB.
const MOST_RISE_DB: f64 = 12.0;

/// Levels below are silence, in dBFS: digital zeros don't rise.
const SILENCE_DBFS: f64 = -90.0;

/// Least height re the largest value elsewhere, and where elsewhere begins, in seconds.
const NEEDS_HEIGHT: f64 = 1.3;
const ELSEWHERE_S: f64 = 0.5;

/// How much later a recorder started, and where in the session that was looked at, in seconds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Startup {
    /// How much later sound stands in the second recorder.
    pub late_s: f64,
    /// Middle of what was looked at.
    pub at_s: f64,
}

/// How much later sound stands in the channels `second` than in `first`, by their levels; none if it does not stand out.
///
/// # Panics
///
/// If traces differ in their steps.
#[expect(clippy::cast_precision_loss, reason = "a count of steps is far below 2^52")]
pub fn startup(first: &[&Trace], second: &[&Trace]) -> Option<Startup> {
    let step_s = second.first()?.step_s();
    let is_alike = |trace: &&&Trace| (trace.step_s() - step_s).abs() < 1e-9;
    assert!(first.iter().chain(second).all(|trace| is_alike(&trace)), "one step for all");
    let steps = |time_s: f64| steps(time_s, step_s);
    let (first, second) = (rises(first), rises(second));
    let begin = busiest(&second, steps(LOOKED_AT_S));
    let end = (begin + steps(LOOKED_AT_S)).min(second.len());
    let from = begin.saturating_sub(steps(FAR_S));
    let to = (end + steps(FAR_S)).min(first.len());
    if end - begin < steps(NEEDS_S) || to < from + steps(NEEDS_S) {
        return None;
    }
    let (first, second) = (&first[from..to], &second[begin..end]);
    let values = normalised(first, second, steps(NEEDS_S));
    // Step `k` of the second beside step `k + shift` of the first.
    let shift =
        |place: usize| place as f64 - (second.len() - 1) as f64 + (from as f64 - begin as f64);
    let far = |place: &usize| (shift(*place) * step_s).abs() <= FAR_S;
    let best = (0..values.len())
        .filter(far)
        .max_by(|&a, &b| values[a].total_cmp(&values[b]).then(b.cmp(&a)))?;
    let apart = steps(ELSEWHERE_S);
    let rest = (0..values.len()).filter(far).filter(|place| place.abs_diff(best) >= apart);
    let rest = rest.map(|place| values[place]).fold(0.0, f64::max);
    let stands_out = values[best] > 0.0 && values[best] >= NEEDS_HEIGHT * rest;
    let at_s = 0.5 * (begin + end) as f64 * step_s;
    stands_out.then(|| Startup { late_s: -shift(best) * step_s, at_s })
}

/// Rises of the level of all channels together, step by step, less their mean.
fn rises(traces: &[&Trace]) -> Vec<f64> {
    let n_steps = traces.iter().map(|trace| trace.len()).max().unwrap_or(0);
    let mut sum = vec![0.0; n_steps];
    for trace in traces {
        let mut before = f64::INFINITY;
        for (step, sum) in sum.iter_mut().enumerate().take(trace.len()) {
            let level_db = trace.level_db(step).max(SILENCE_DBFS);
            *sum += (level_db - before).clamp(0.0, MOST_RISE_DB);
            before = level_db;
        }
    }
    #[expect(clippy::cast_precision_loss, reason = "a count of steps is far below 2^52")]
    let mean = sum.iter().sum::<f64>() / n_steps.max(1) as f64;
    sum.iter_mut().for_each(|rise| *rise -= mean);
    sum
}

/// Where the stretch of so many steps begins that holds the most rises: a multiple of half its length.
fn busiest(rises: &[f64], n_steps: usize) -> usize {
    let power = |begin: usize| -> f64 {
        rises[begin..(begin + n_steps).min(rises.len())].iter().map(|rise| rise * rise).sum()
    };
    let begins = (0..rises.len()).step_by(n_steps.div_ceil(2).max(1));
    begins.max_by(|&a, &b| power(a).total_cmp(&power(b)).then(b.cmp(&a))).unwrap_or(0)
}

/// Correlation of the second with every stretch of the first, in size of what overlaps; 0 where fewer than `needs` steps do.
/// At place `p` the last step of the second stands beside step `p` of the first.
fn normalised(first: &[f64], second: &[f64], needs: usize) -> Vec<f64> {
    let n = first.len() + second.len() - 1;
    let length = n.next_power_of_two();
    let mut planner = RealFftPlanner::<f64>::new();
    let (forward, inverse) = (planner.plan_fft_forward(length), planner.plan_fft_inverse(length));
    let spectrum = |values: &mut dyn Iterator<Item = f64>| -> Vec<Complex64> {
        let mut input: Vec<f64> = values.collect();
        input.resize(length, 0.0);
        let mut output = forward.make_output_vec();
        forward.process(&mut input, &mut output).expect("the buffers have the plan's lengths");
        output
    };
    let one = spectrum(&mut first.iter().copied());
    let other = spectrum(&mut second.iter().rev().copied());
    let mut product: Vec<Complex64> = one.iter().zip(&other).map(|(a, b)| a * b).collect();
    let mut values = inverse.make_output_vec();
    inverse.process(&mut product, &mut values).expect("the ends are real");
    values.truncate(n);
    let (one, other) = (powers(first), powers(second));
    #[expect(clippy::cast_precision_loss, reason = "a length of a transform")]
    let scale = 1.0 / length as f64;
    for (place, value) in values.iter_mut().enumerate() {
        let begin = (place + 1).saturating_sub(second.len());
        let end = (place + 1).min(first.len());
        let own = second.len() + begin - (place + 1);
        let power = (one[end] - one[begin]) * (other[own + end - begin] - other[own]);
        let is_enough = end - begin >= needs && power > 0.0;
        *value = if is_enough { *value * scale / power.sqrt() } else { 0.0 };
    }
    values
}

/// Power of the values before each place.
fn powers(values: &[f64]) -> Vec<f64> {
    let mut sum = 0.0;
    let sums = values.iter().map(|value| {
        sum += value * value;
        sum
    });
    std::iter::once(0.0).chain(sums).collect()
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a time is not negative and far below 2^52 steps"
)]
fn steps(time_s: f64, step_s: f64) -> usize {
    (time_s / step_s).round() as usize
}
