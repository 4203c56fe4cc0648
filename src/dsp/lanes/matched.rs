//! One channel under a short symmetric filter, and its products with itself: eight samples or more side by side.
//!
//! Takes samples of one channel, gives the largest output of the filter, or sums of products at the first lags.

use super::LANES;
use super::isa::dispatch;

/// Outputs of which the largest is taken.
pub const CELL: usize = 64;

dispatch! {
    narrow
    /// Largest size of the outputs of a symmetric filter in each cell. `half` are the taps from the middle outwards; the first
    /// output lies in the middle of the first `2 N - 1` samples.
    pub fn largest_outputs[const N](x: &[f32], half: &[f32; N], cells: &mut Vec<f32>) {
        let reach = N - 1;
        for cell in x.windows(CELL + 2 * reach).step_by(CELL) {
            let mut top = [0.0f32; LANES];
            for window in cell.windows(LANES + 2 * reach).step_by(LANES) {
                // Copies: behind references the compiler keeps the sums in memory.
                let eight = |at: usize| -> [f32; LANES] {
                    window[at..at + LANES].try_into().expect("eight samples")
                };
                let mut sums = eight(reach).map(|x| half[0] * x);
                #[expect(
                    clippy::needless_range_loop,
                    reason = "an iterator keeps the sums in memory too: a quarter of the speed"
                )]
                for away in 1..N {
                    let (before, behind) = (eight(reach - away), eight(reach + away));
                    for lane in 0..LANES {
                        sums[lane] += half[away] * (before[lane] + behind[lane]);
                    }
                }
                for lane in 0..LANES {
                    let size = sums[lane].abs();
                    top[lane] = if size > top[lane] { size } else { top[lane] };
                }
            }
            cells.push(top.into_iter().fold(0.0, f32::max));
        }
    }
}

dispatch! {
    narrow
    /// Sums of the products of samples with those 0 to `N - 1` later. Samples behind the last whole eight that have as many
    /// behind them are left out: who wants them appends zeros.
    pub fn lagged_sums[const N](x: &[f32]) -> [f32; N] {
        let mut sums = [[0.0f32; LANES]; N];
        for window in x.windows(LANES + N - 1).step_by(LANES) {
            for lag in 0..N {
                let later = &window[lag..lag + LANES];
                for lane in 0..LANES {
                    sums[lag][lane] += window[lane] * later[lane];
                }
            }
        }
        sums.map(|lanes| lanes.into_iter().sum())
    }
}
