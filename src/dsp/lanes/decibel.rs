//! Powers in dB, many at once.
//!
//! Takes powers, gives levels. Calls nothing of the library of the system, so that it runs in lanes.

use super::isa::dispatch;

/// Bits of the root of a half, and of what lies behind the point, in a single float (IEEE 754).
const ROOT_HALF: i32 = 0x3f35_04f3;
const FRACTION_BITS: i32 = 23;

/// Powers below this count as this: -140 dB.
const LEAST: f32 = 1e-14;

#[inline(always)]
#[expect(clippy::cast_precision_loss, reason = "an exponent is below 128")]
fn in_db(power: f32) -> f32 {
    let bits = power.max(LEAST).to_bits().cast_signed();
    // A whole number of doublings of what lies between the roots of a half and of two.
    let doublings = (bits - ROOT_HALF) >> FRACTION_BITS;
    let rest = f32::from_bits((bits - (doublings << FRACTION_BITS)).cast_unsigned());
    // ln x = 2 artanh((x - 1) / (x + 1)); the term after the last is below 3e-8.
    let s = (rest - 1.0) / (rest + 1.0);
    let square = s * s;
    let ln = 2.0 * s * (1.0 + square * (1.0 / 3.0 + square * (0.2 + square / 7.0)));
    10.0 * (std::f32::consts::LOG10_2 * doublings as f32 + std::f32::consts::LOG10_E * ln)
}

dispatch! {
    narrow
    /// Turns each power into dB, within 0.0001 dB; what lies below -140 dB becomes that.
    pub fn to_db[](powers: &mut [f32]) {
        for power in powers {
            *power = in_db(*power);
        }
    }
}
