//! Energy and peak of a step.
//!
//! Takes frames, gives sums of squares and largest sizes a lane.

use super::isa::dispatch;
use super::{Frame, LANES};

dispatch! {
    /// Adds the squares of the samples to `energy` and raises `peak` to the largest size of a sample, lane by lane.
    pub fn step_level[](frames: &[Frame], energy: &mut [f64; LANES], peak: &mut Frame) {
        let (mut sum, mut top) = (*energy, *peak);
        for frame in frames {
            for lane in 0..LANES {
                let size = frame[lane].abs();
                top[lane] = if size > top[lane] { size } else { top[lane] };
                let sample = f64::from(frame[lane]);
                sum[lane] += sample * sample;
            }
        }
        (*energy, *peak) = (sum, top);
    }
}
