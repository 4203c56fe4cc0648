//! Windows: what the interpolators and the half-band low-pass are cut from, and what frames are tapered with.
//!
//! Takes a shape, gives weights. Sources: Kaiser & Schafer, IEEE Trans. ASSP 28, 1980; Blackman & Tukey 1958 (Hann).

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

/// Value `place` of a periodic raised cosine (Hann) window of `length` values: frames that overlap by half add up to 1.
#[expect(clippy::cast_precision_loss, reason = "places in a window are small numbers")]
pub fn hann(place: usize, length: usize) -> f64 {
    0.5 - 0.5 * (2.0 * PI * place as f64 / length as f64).cos()
}
