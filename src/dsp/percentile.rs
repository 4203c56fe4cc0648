//! Order statistics.
//!
//! Takes values in any order, gives a percentile. Never takes a value that is not a number.

use std::cmp::Ordering;

/// The value below which `share` of the values lie, 0 to 1, linear between neighbours; `None` where there are none.
///
/// The smallest value has the share 0 and the largest 1 (definition 7 of Hyndman & Fan, The American Statistician 50, 1996).
pub fn percentile(values: &[f64], share: f64) -> Option<f64> {
    let last = values.len().checked_sub(1)?;
    let (place, rest) = place(last, share);
    let (below, above) = neighbours(values, place);
    Some(below + rest * (above - below))
}

/// The value nearest to a percentile, without any between two values; `None` where there are none.
///
/// The index is `round((n - 1) share)` of the sorted values, as EBU Tech 3342 does it.
pub fn nearest(values: &[f64], share: f64) -> Option<f64> {
    let last = values.len().checked_sub(1)?;
    let (place, rest) = place(last, share);
    let (below, above) = neighbours(values, place);
    Some(if rest < 0.5 { below } else { above })
}

/// Median; `None` where there are no values.
pub fn median(values: &[f64]) -> Option<f64> {
    percentile(values, 0.5)
}

/// Whether a percentile lies above a limit: `percentile(values, share) > limit`; never where there are no values.
///
/// Counts, and looks at the values themselves only where the limit lies between the neighbours of the place.
pub fn is_above(values: &[f64], share: f64, limit: f64) -> bool {
    let Some(last) = values.len().checked_sub(1) else { return false };
    let (place, _) = place(last, share);
    let n_above = values.iter().map(|&value| usize::from(value > limit)).sum::<usize>();
    match n_above.cmp(&(last - place)) {
        Ordering::Greater => true,
        Ordering::Less => false,
        Ordering::Equal => percentile(values, share).is_some_and(|value| value > limit),
    }
}

/// The value at a place among the sorted ones, and the next above; the same twice at the last place. Sorts no more than that takes.
fn neighbours(values: &[f64], place: usize) -> (f64, f64) {
    let mut values = values.to_vec();
    let (_, &mut below, behind) = values.select_nth_unstable_by(place, f64::total_cmp);
    let above = behind.iter().copied().min_by(f64::total_cmp).unwrap_or(below);
    (below, above)
}

/// The index at or below a share, and how far that lies on the way to the next.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss,
    reason = "the place lies between 0 and the last index"
)]
fn place(last: usize, share: f64) -> (usize, f64) {
    let place = share.clamp(0.0, 1.0) * last as f64;
    (place.floor() as usize, place - place.floor())
}
