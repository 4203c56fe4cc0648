//! Brings powers that rest on some bins of a third-octave to what the whole third-octave carries.
//!
//! Takes slots of a mix and the third-octaves of its raw channels, measured with all of their sound, and scales the slots. A note whose
//! partials fall between the kept bins, or on them, reads too soft or too loud by a decibel for as long as it is played; how the desk
//! changed a channel is told as well by the bins as by the whole. Never changes what is left unexplained.

use super::colour::SIDES;
use super::grid::{Grid, N_BANDS};
use super::shares::{Powers, Slot};

/// Bins and whole third-octaves that differ by more are not of one moment (a power ratio, either way).
const MOST: f32 = 10.0;

/// Mean power of a Hann window.
const HANN: f64 = 3.0 / 8.0;

/// Scales slots to whole third-octaves. `groups` are those that the slots hold, `leads` what their backing is without; `whole` gives the
/// mean squares of a line in the second from a moment on.
///
/// What a line gives is multiplied by `whole / kept` of its raw channel; a sum of several by what that makes of the sum of their powers.
/// Third-octaves of which all bins are kept stay as they are.
pub fn to_whole_bands(
    slots: &mut [Slot],
    grid: &Grid,
    groups: &[Vec<usize>],
    leads: &[usize],
    whole: impl Fn(usize, f64) -> Option<Powers>,
) {
    let n = slots.first().map_or(0, |slot| slot.raw.len());
    let all: Vec<usize> = (0..n).collect();
    let without: Vec<usize> = (0..n).filter(|line| !leads.contains(line)).collect();
    let is_thinned = |band: &usize| grid.n_in_band(*band) > grid.band(*band).len();
    let bands: Vec<usize> = (0..N_BANDS).filter(is_thinned).collect();
    for slot in slots {
        let factors: Vec<Powers> = (0..n)
            .map(|line| match whole(line, slot.start_s) {
                Some(whole) => factors(&whole, &slot.raw[line], grid),
                None => [1.0; N_BANDS],
            })
            .collect();
        for &band in &bands {
            let before: Vec<f32> =
                slot.given.iter().map(|sides| sides[0][band] + sides[1][band]).collect();
            let grown = |lines: &[usize], rest: f32| {
                let old: f32 = lines.iter().map(|&line| before[line]).sum();
                let new: f32 = lines.iter().map(|&line| before[line] * factors[line][band]).sum();
                if old > 0.0 { (new + rest) / (old + rest) } else { 1.0 }
            };
            let rest = slot.rest[0][band] + slot.rest[1][band];
            let (main, backing) = (grown(&all, rest), grown(&without, rest));
            let together: Vec<f32> = groups.iter().map(|group| grown(group, 0.0)).collect();
            for side in 0..SIDES {
                slot.main[side][band] *= main;
                slot.backing[side][band] *= backing;
                for (given, factors) in slot.given.iter_mut().zip(&factors) {
                    given[side][band] *= factors[band];
                }
            }
            slot.together.iter_mut().zip(together).for_each(|(sum, factor)| sum[band] *= factor);
        }
    }
}

/// What the kept bins of each third-octave have to be multiplied by.
#[expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    reason = "a frame has a few thousand samples; powers are held as f32"
)]
fn factors(whole: &Powers, kept: &Powers, grid: &Grid) -> Powers {
    // Parseval: the bins above 0 Hz hold half of the squares of a frame, times its samples.
    let of_bins = (0.5 * HANN * (grid.frame() as f64).powi(2)) as f32;
    std::array::from_fn(|band| {
        if kept[band] > 0.0 && whole[band] > 0.0 {
            (whole[band] * of_bins / kept[band]).clamp(1.0 / MOST, MOST)
        } else {
            1.0
        }
    })
}
