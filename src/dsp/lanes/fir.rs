//! Products of a symmetric row of taps with the frames under it, eight channels at once.
//!
//! Takes frames and taps, gives every n-th filtered frame. As both sides weigh alike, their frames are added first.

use super::isa::dispatch;
use super::{Frame, LANES};

/// Outputs that are summed side by side: the sum of one alone would wait for each of its additions.
const TOGETHER: usize = 4;

/// Products of the taps with the frames from 0, `factor`, .. on.
#[inline(always)]
fn products<const N: usize>(
    frames: &[Frame],
    side: &[f32],
    middle: f32,
    factor: usize,
) -> [Frame; N] {
    let mut sums = [[0.0f32; LANES]; N];
    for (idx, sum) in sums.iter_mut().enumerate() {
        *sum = frames[idx * factor + side.len()].map(|sample| middle * sample);
    }
    for (tap, weight) in side.iter().enumerate() {
        for (idx, sum) in sums.iter_mut().enumerate() {
            let (before, after) =
                (&frames[idx * factor + tap], &frames[idx * factor + 2 * side.len() - tap]);
            for lane in 0..LANES {
                sum[lane] += weight * (before[lane] + after[lane]);
            }
        }
    }
    sums
}

dispatch! {
    narrow
    /// Writes to `output` the products of the taps with the frames from `0`, `factor`, `2 factor` .. on. `half` are the taps
    /// from the outermost to the one in the middle.
    ///
    /// # Panics
    ///
    /// If there are no taps or the frames end too early.
    pub fn filter_every[](frames: &[Frame], half: &[f32], factor: usize, output: &mut [Frame]) {
        let (&middle, side) = half.split_last().expect("a filter has a middle tap");
        let n_taps = 2 * side.len() + 1;
        let (fours, rest) = output.as_chunks_mut::<TOGETHER>();
        let n_done = TOGETHER * fours.len();
        for (idx, four) in fours.iter_mut().enumerate() {
            let from = TOGETHER * idx * factor;
            let window = &frames[from..from + (TOGETHER - 1) * factor + n_taps];
            *four = products(window, side, middle, factor);
        }
        for (idx, frame) in rest.iter_mut().enumerate() {
            let from = (n_done + idx) * factor;
            [*frame] = products(&frames[from..from + n_taps], side, middle, factor);
        }
    }
}
