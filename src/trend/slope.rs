//! # Slope of a measure
//!
//! By how much a measure moves from one session to the next. One odd night does not move it.
//!
//! - **Formula:** the median of `(y_j - y_i) / (j - i)` over all pairs `i < j`; its 95 % interval lies between the slopes of
//!   ranks `(N - 1.96 √Var) / 2` and `(N + 1.96 √Var) / 2 + 1`, with `N` the number of pairs and `Var` the variance of Kendall's S
//! - **Unit:** that of the measure, per session
//! - **Source:** Theil, Indagationes Mathematicae 12 (1950); Sen, JASA 63 (1968)
//! - **No value:** fewer than two sessions
//! - **Misleads when:** sessions are far apart in time: they count alike

use super::kendall;
use super::normal::Z_95;
use crate::dsp::percentile::median;

/// A slope with its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slope {
    /// Step from one session to the next.
    pub per_session: f64,
    /// Low end of the interval.
    pub low_per_session: f64,
    /// High end of it.
    pub high_per_session: f64,
}

/// The slope of a series; none for fewer than two values.
pub fn slope(values: &[f64]) -> Option<Slope> {
    let mut slopes = Vec::new();
    for (idx, earlier) in values.iter().enumerate() {
        for (apart, later) in (1_u32..).zip(&values[idx + 1..]) {
            slopes.push((later - earlier) / f64::from(apart));
        }
    }
    let per_session = median(&slopes)?;
    slopes.sort_by(f64::total_cmp);
    #[expect(clippy::cast_precision_loss, reason = "pairs of a few hundred sessions")]
    let n_slopes = slopes.len() as f64;
    let side = Z_95 * kendall::variance(&kendall::ties(values)).sqrt();
    let low = ((n_slopes - side) / 2.0).round_ties_even() - 1.0;
    let high = ((n_slopes + side) / 2.0).round_ties_even();
    let ranked = |rank: f64| {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a rank is kept within the list"
        )]
        slopes[rank.clamp(0.0, n_slopes - 1.0) as usize]
    };
    Some(Slope { per_session, low_per_session: ranked(low), high_per_session: ranked(high) })
}
