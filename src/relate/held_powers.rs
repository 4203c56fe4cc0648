//! Powers of all third-octaves in two bytes each.
//!
//! Takes powers, gives them back within 0.4 % (0.02 dB): the upper half of each single-precision number, rounded. What every channel
//! gives in every second of hours is held so.

use super::grid::N_BANDS;
use super::shares::Powers;

/// Bits of a number that are left out.
const LEFT_OUT: u32 = 16;

/// Powers, held short.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HeldPowers([u16; N_BANDS]);

impl HeldPowers {
    /// Of nothing.
    pub const SILENT: Self = Self([0; N_BANDS]);

    /// Holds powers, which are numbers from 0 up.
    pub fn new(powers: &Powers) -> Self {
        let rounded = |power: f32| power.to_bits().saturating_add(1 << (LEFT_OUT - 1));
        Self(powers.map(|power| (rounded(power) >> LEFT_OUT) as u16))
    }

    /// The powers.
    pub fn powers(&self) -> Powers {
        self.0.map(|upper| f32::from_bits(u32::from(upper) << LEFT_OUT))
    }
}
