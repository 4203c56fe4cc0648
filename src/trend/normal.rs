//! # Tail of the normal distribution
//!
//! How likely it is that chance alone moves a standard normal number so far from zero, to either side.
//!
//! - **Formula:** `erfc(z / √2)`; below 3 by the series of erf with positive terms, above by the continued fraction of erfc
//! - **Unit:** none, 0 to 1
//! - **Source:** Abramowitz and Stegun, Handbook of Mathematical Functions (1964), 7.1.6 and 7.1.14

use std::f64::consts::{FRAC_1_SQRT_2, PI};

/// Place of the normal distribution with 2.5 % beyond it: ends of a 95 % interval.
pub const Z_95: f64 = 1.959_963_984_540_054;

/// Where the continued fraction takes over: both sides agree here to 1e-13.
const FAR: f64 = 3.0;

/// Share of a normal distribution that lies farther from zero than `z`, on both sides together.
pub fn two_sided(z: f64) -> f64 {
    let x = z.abs() * FRAC_1_SQRT_2;
    if x < FAR { 1.0 - erf_near(x) } else { erfc_far(x) }
}

/// The error function by a series without cancellation: `2/√π e^(-x²) Σ 2^n x^(2n+1) / (1·3·…·(2n+1))`.
fn erf_near(x: f64) -> f64 {
    let mut term = x;
    let mut sum = term;
    let mut odd = 1.0;
    while term > sum * f64::EPSILON {
        odd += 2.0;
        term *= 2.0 * x * x / odd;
        sum += term;
    }
    2.0 / PI.sqrt() * (-x * x).exp() * sum
}

/// The complement by its continued fraction, from the inside out: `e^(-x²)/√π · 1/(x + (1/2)/(x + (2/2)/(x + …)))`.
fn erfc_far(x: f64) -> f64 {
    /// Enough for 1e-15 from `FAR` on.
    const N_STEPS: u32 = 60;
    let tail = (1..=N_STEPS).rev().fold(x, |tail, step| x + 0.5 * f64::from(step) / tail);
    (-x * x).exp() / (PI.sqrt() * tail)
}
