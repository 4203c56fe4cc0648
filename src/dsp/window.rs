//! Windowed sinc functions, from which the interpolators and the half-band low-pass are cut.
//!
//! Takes a shape, gives weights. Source of the window: Kaiser & Schafer, IEEE Trans. ASSP 28, 1980.

use std::f64::consts::PI;

/// Kaiser window at `place`, -1 to 1; 1 in the middle and 0 outside.
pub fn kaiser(place: f64, beta: f64) -> f64 {
    let inside = 1.0 - place * place;
    if inside < 0.0 { 0.0 } else { bessel(beta * inside.sqrt()) / bessel(beta) }
}

/// `sin(pi x) / (pi x)`.
pub fn sinc(x: f64) -> f64 {
    if x.abs() < 1e-9 { 1.0 } else { (PI * x).sin() / (PI * x) }
}

/// Modified Bessel function of the first kind and order 0, by its power series.
fn bessel(x: f64) -> f64 {
    let quarter = x * x / 4.0;
    let (mut sum, mut term) = (1.0, 1.0);
    for n in 1..60 {
        term *= quarter / f64::from(n * n);
        sum += term;
    }
    sum
}
