//! Sound in air: how fast it runs.
//!
//! Takes degrees Celsius, gives metres a second. Never rounds.

/// Temperature that is meant where none was noted, in °C.
pub const USUAL_TEMPERATURE_C: f64 = 20.0;

/// Speed of sound in air, in m/s: `343.2 sqrt((t + 273.15)/293.15)` (ISO 9613-1:1993).
pub fn speed_of_sound_m_s(temperature_c: f64) -> f64 {
    343.2 * ((temperature_c + 273.15) / 293.15).sqrt()
}
