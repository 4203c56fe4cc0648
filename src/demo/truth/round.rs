//! Rounding of what is written to the truth.
//!
//! Takes exact numbers, gives decimal ones: last bits of a logarithm differ between machines and mean nothing.

/// To two decimals: levels, and times of activity.
pub(super) fn hundredth(x: f64) -> f64 {
    (x * 100.0).round() / 100.0
}

/// To one decimal: levels of frames.
pub(super) fn tenth(x: f64) -> f64 {
    (x * 10.0).round() / 10.0
}

/// To a microsecond: delays.
pub(super) fn millionth(x: f64) -> f64 {
    (x * 1e6).round() / 1e6
}

/// A factor of pressure in dB, rounded; none for nothing.
pub(super) fn decibels(factor: f64) -> Option<f64> {
    (factor > 0.0).then(|| hundredth(20.0 * factor.log10()))
}
