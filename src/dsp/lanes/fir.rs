//! Products of a symmetric row of taps with the frames under it, eight channels at once.
//!
//! Takes frames and taps, gives every n-th filtered frame. As both sides weigh alike, their frames are added first.

use super::isa::dispatch;
use super::{Frame, LANES};

dispatch! {
    narrow
    /// Writes to `output` the products of the taps with the frames from `0`, `factor`, `2 factor` .. on. `half` are the taps
    /// from the outermost to the one in the middle.
    ///
    /// # Panics
    ///
    /// If there are no taps or the frames end too early.
    pub fn filter_every[](frames: &[Frame], half: &[f32], factor: usize, output: &mut [Frame]) {
        let (middle, side) = half.split_last().expect("a filter has a middle tap");
        let n_taps = 2 * side.len() + 1;
        for (idx, frame) in output.iter_mut().enumerate() {
            let window = &frames[idx * factor..idx * factor + n_taps];
            let (before, rest) = window.split_at(side.len());
            let mut sum = rest[0].map(|sample| middle * sample);
            for ((weight, before), after) in side.iter().zip(before).zip(rest.iter().rev()) {
                for lane in 0..LANES {
                    sum[lane] += weight * (before[lane] + after[lane]);
                }
            }
            *frame = sum;
        }
    }
}
