//! Points, distances and patterns.
//!
//! Takes metres, gives metres and factors of pressure. Never rounds.

/// A point or a direction: across, upstage, up, in metres.
pub type Point = [f64; 3];

/// Distance between two points, in metres.
pub fn distance_m(a: Point, b: Point) -> f64 {
    length_m(minus(b, a))
}

/// Cosine of the angle between two directions; 1 if one of them has no length.
pub fn cosine(a: Point, b: Point) -> f64 {
    let size = length_m(a) * length_m(b);
    if size > 0.0 { (a[0] * b[0] + a[1] * b[1] + a[2] * b[2]) / size } else { 1.0 }
}

/// The direction from `b` to `a`.
pub fn minus(a: Point, b: Point) -> Point {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

fn length_m(a: Point) -> f64 {
    (a[0] * a[0] + a[1] * a[1] + a[2] * a[2]).sqrt()
}

/// Factor of pressure of a first-order pattern, negative behind its null.
///
/// # Formula
///
/// ```text
/// A + (1 - A) cos t
/// ```
///
/// where `A` is the omnidirectional part and `t` the angle off axis (standard microphone theory).
pub fn pattern_factor(omni: f64, cosine: f64) -> f64 {
    omni + (1.0 - omni) * cosine
}

/// Power that a first-order pattern takes from a diffuse field, against an omnidirectional one: `A² + (1 - A)²/3`.
pub fn random_energy_efficiency(omni: f64) -> f64 {
    omni * omni + (1.0 - omni) * (1.0 - omni) / 3.0
}
