//! Order statistics.
//!
//! Takes values in any order, gives a percentile. Never takes a value that is not a number.

/// The value below which `share` of the values lie, 0 to 1, linear between neighbours; `None` where there are none.
///
/// The smallest value has the share 0 and the largest 1 (definition 7 of Hyndman & Fan, The American Statistician 50, 1996).
pub fn percentile(values: &[f64], share: f64) -> Option<f64> {
    let sorted = sorted(values);
    let last = sorted.len().checked_sub(1)?;
    let (below, above, rest) = place(last, share);
    Some(sorted[below] + rest * (sorted[above] - sorted[below]))
}

/// The value nearest to a percentile, without any between two values; `None` where there are none.
///
/// The index is `round((n - 1) share)` of the sorted values, as EBU Tech 3342 does it.
pub fn nearest(values: &[f64], share: f64) -> Option<f64> {
    let sorted = sorted(values);
    let last = sorted.len().checked_sub(1)?;
    let (below, above, rest) = place(last, share);
    Some(sorted[if rest < 0.5 { below } else { above }])
}

/// Median; `None` where there are no values.
pub fn median(values: &[f64]) -> Option<f64> {
    percentile(values, 0.5)
}

fn sorted(values: &[f64]) -> Vec<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    sorted
}

/// The indices around a share, and how far it lies between them.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss,
    reason = "the place lies between 0 and the last index"
)]
fn place(last: usize, share: f64) -> (usize, usize, f64) {
    let place = share.clamp(0.0, 1.0) * last as f64;
    let below = place.floor() as usize;
    (below, (below + 1).min(last), place - place.floor())
}
