//! Gated loudness and loudness range from the powers of blocks.
//!
//! Takes K-weighted mean squares of overlapping blocks, gives LUFS and LU. Sources: ITU-R BS.1770-5 annex 1 (two gates),
//! EBU Tech 3342 (range).

use super::percentile::nearest;

/// Loudness of a K-weighted mean square of 1, in LUFS: cancels the weighting's gain at 997 Hz (BS.1770-5 annex 1).
const OFFSET_LUFS: f64 = -0.691;

/// Blocks at or below this loudness don't count (BS.1770-5 annex 1).
pub const ABSOLUTE_GATE_LUFS: f64 = -70.0;

/// Blocks this far or further below the mean of the others don't count (BS.1770-5 annex 1).
const RELATIVE_GATE_LU: f64 = -10.0;

/// The same for the range (EBU Tech 3342).
const RANGE_GATE_LU: f64 = -20.0;

/// Ends of the range, as shares of the blocks (EBU Tech 3342).
const RANGE_ENDS: [f64; 2] = [0.10, 0.95];

/// Loudness of a K-weighted mean square, in LUFS; minus infinity for 0.
pub fn loudness_lufs(power: f64) -> f64 {
    OFFSET_LUFS + 10.0 * power.log10()
}

/// Mean power that a loudness stands for.
pub fn loudness_power(lufs: f64) -> f64 {
    10f64.powf((lufs - OFFSET_LUFS) / 10.0)
}

/// Integrated loudness of 400 ms blocks, in LUFS; `None` if no block passes the absolute gate.
pub fn integrated_lufs(blocks: &[f64]) -> Option<f64> {
    let passed = gated(blocks, RELATIVE_GATE_LU);
    mean(&passed).map(loudness_lufs)
}

/// Loudness range of 3 s blocks, in LU; `None` if no block passes the absolute gate.
pub fn range_lu(blocks: &[f64]) -> Option<f64> {
    let passed = gated(blocks, RANGE_GATE_LU);
    let [low, high] = RANGE_ENDS.map(|share| nearest(&passed, share));
    Some(10.0 * (high? / low?).log10())
}

/// The blocks that pass both gates.
fn gated(blocks: &[f64], relative_lu: f64) -> Vec<f64> {
    let floor = loudness_power(ABSOLUTE_GATE_LUFS);
    let mut passed: Vec<f64> = blocks.iter().copied().filter(|&power| power > floor).collect();
    if let Some(level) = mean(&passed) {
        let gate = level * 10f64.powf(relative_lu / 10.0);
        passed.retain(|&power| power > gate);
    }
    passed
}

fn mean(values: &[f64]) -> Option<f64> {
    #[expect(clippy::cast_precision_loss, reason = "a count of blocks is far below 2^52")]
    let n_values = values.len() as f64;
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / n_values)
}
