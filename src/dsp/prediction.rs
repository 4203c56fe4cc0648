//! Linear prediction: how far each sample lies from what the samples around it say.
//!
//! Takes samples, gives the filter that leaves the error of prediction, and the filter that looks for a single wrong sample in it:
//! the error filter run forwards and backwards. Never judges an error. Sources: Levinson-Durbin recursion; the matched filter of a click
//! is the error filter in reverse (Vaseghi and Rayner 1990, from memory).

use super::dot::dot;

/// Products of samples with those up to `order` later, summed.
pub fn autocorrelation(x: &[f32], order: usize) -> Vec<f64> {
    (0..=order).map(|lag| f64::from(dot(&x[lag.min(x.len())..], x))).collect()
}

/// Taps of the filter whose output is the error of the best prediction: 1, then what is taken away of the samples before.
///
/// # Panics
///
/// If there is no correlation at lag 0.
pub fn error_filter(correlation: &[f64]) -> Vec<f64> {
    let order = correlation.len() - 1;
    let mut taps = vec![0.0; order + 1];
    taps[0] = 1.0;
    let mut error = correlation[0];
    for n in 1..=order {
        let left: f64 = (0..n).map(|k| taps[k] * correlation[n - k]).sum();
        let reflection = -left / error;
        let before = taps.clone();
        for k in 1..=n {
            taps[k] = before[k] + reflection * before[n - k];
        }
        error *= 1.0 - reflection * reflection;
    }
    taps
}

/// Error of each sample that as many others come before as the filter has taps, the first one left out.
pub fn error(x: &[f32], error_filter: &[f32]) -> Vec<f32> {
    let backwards: Vec<f32> = error_filter.iter().rev().copied().collect();
    x.windows(backwards.len()).map(|seen| dot(seen, &backwards)).collect()
}

/// The error filter run backwards over the error: each value belongs to the first of as many errors as the filter has taps. White
/// noise keeps the level that it has in the error; a single wrong sample stands out as far as any filter can lift it.
pub fn matched(error: &[f32], error_filter: &[f32]) -> Vec<f32> {
    let height = dot(error_filter, error_filter).sqrt();
    error.windows(error_filter.len()).map(|seen| dot(seen, error_filter) / height).collect()
}

/// Both filters in one, for the samples themselves: the middle tap, then those of one side outwards.
pub fn matched_taps(error_filter: &[f64]) -> Vec<f64> {
    let products = |lag: usize| dot(&error_filter[lag..], error_filter);
    let height = products(0).sqrt();
    (0..error_filter.len()).map(|lag| products(lag) / height).collect()
}
