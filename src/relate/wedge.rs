//! # Wedge against a microphone
//!
//! How deaf a microphone is towards a monitor loudspeaker, by the stage plot.
//!
//! - **Formula:** angle in space between the axis of the microphone and the way from it to the loudspeaker; `20 lg |A + (1-A)
//!   cos angle|` with `A` of the pattern: omnidirectional 1, subcardioid 0.7, cardioid 0.5, supercardioid 0.366,
//!   hypercardioid 0.25, figure-eight 0; no less than -30 dB, for no microphone is deafer
//! - **Unit:** degrees; dB re the axis
//! - **Range:** 0 to 180 degrees; -30 to 0 dB
//! - **Source:** first-order patterns, standard microphone theory (J. Eargle, The Microphone Book, from memory)
//! - **Window:** the plot
//! - **No value:** no pattern, position or axis in the plot
//! - **Misleads when:** the plot is out of date, the microphone is held in the hand, or a hand is around its grille; a real pattern
//!   is wider at low frequencies

use crate::session::note::Pattern;
use crate::unit::Unmeasured;

/// Real microphones are no deafer, in dB.
const DEAFEST_DB: f64 = -30.0;

/// Direction of a wedge as a microphone sees it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Direction {
    /// Angle off the axis, in degrees.
    pub angle_deg: f64,
    /// Level from there re the axis.
    pub level_db: f64,
}

/// Where a loudspeaker lies for a microphone; places in metres, the axis of any length.
///
/// # Errors
///
/// A reason if the axis has no length or the two stand in one place.
pub fn direction(
    pattern: Pattern,
    microphone_m: [f64; 3],
    axis: [f64; 3],
    wedge_m: [f64; 3],
) -> Result<Direction, Unmeasured> {
    let way: [f64; 3] = std::array::from_fn(|at| wedge_m[at] - microphone_m[at]);
    let dot = |a: [f64; 3], b: [f64; 3]| a.iter().zip(&b).map(|(a, b)| a * b).sum::<f64>();
    let lengths = (dot(way, way) * dot(axis, axis)).sqrt();
    if lengths.is_nan() || lengths <= 0.0 {
        return Err(Unmeasured::Because("the plot gives no direction"));
    }
    let cosine = (dot(way, axis) / lengths).clamp(-1.0, 1.0);
    let all_around = share_all_around(pattern);
    let level = (all_around + (1.0 - all_around) * cosine).abs();
    let level_db = (20.0 * level.log10()).max(DEAFEST_DB);
    Ok(Direction { angle_deg: cosine.acos().to_degrees(), level_db })
}

/// The part of a pattern that is the same all around.
const fn share_all_around(pattern: Pattern) -> f64 {
    match pattern {
        Pattern::Omni => 1.0,
        Pattern::Subcardioid => 0.7,
        Pattern::Cardioid => 0.5,
        // Where most of the sound of the front half is kept: (sqrt(3) - 1) / 2.
        Pattern::Supercardioid => 0.366_025_403_784_438_65,
        Pattern::Hypercardioid => 0.25,
        Pattern::FigureEight => 0.0,
    }
}
