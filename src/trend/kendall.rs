//! # Trend of a series
//!
//! Whether a series rises or falls from session to session, whatever the shape of the rise, and how likely chance alone
//! would do as much.
//!
//! - **Formula:** `S = Σ sign(x_j - x_i)` over all pairs `i < j`. Up to 10 values `p` is exact: the share of all orders of
//!   these values whose `|S|` is as large. Beyond, `z = (S ∓ 1) / √Var` with
//!   `Var = (n(n-1)(2n+5) - Σ t(t-1)(2t+5)) / 18` over groups of `t` equal values, and `p` from the normal distribution
//! - **Unit:** `S` is a count of pairs, `p` 0 to 1, two-sided
//! - **Source:** Mann, Econometrica 13 (1945); Kendall, Rank Correlation Methods (1975); exact tables up to 10 values: Gilbert,
//!   Statistical Methods for Environmental Pollution Monitoring (1987)
//! - **Misleads when:** one night leans on the one before it: `p` is then too small

use super::normal;

/// Up to so many values the published tables are exact, and so is this.
const EXACT_UP_TO: usize = 10;

/// What a series does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trend {
    /// Pairs that rise minus pairs that fall.
    pub s: i64,
    /// All pairs.
    pub n_pairs: i64,
    /// Probability that chance alone does as much in either direction, 0 to 1.
    pub p: f64,
}

/// The trend of a series, in its order.
///
/// # Panics
///
/// If a value is not a number.
pub fn trend(values: &[f64]) -> Trend {
    assert!(values.iter().all(|value| !value.is_nan()), "a series holds numbers");
    let mut s = 0;
    let mut n_pairs = 0;
    for (idx, earlier) in values.iter().enumerate() {
        for later in &values[idx + 1..] {
            s += i64::from(later > earlier) - i64::from(later < earlier);
            n_pairs += 1;
        }
    }
    let ties = ties(values);
    let p = if values.len() <= EXACT_UP_TO { exact(s, &ties) } else { approximate(s, &ties) };
    Trend { s, n_pairs, p }
}

/// How many values are equal, group by group; a value of its own is a group of one.
pub(super) fn ties(values: &[f64]) -> Vec<usize> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    // In order, one that is not below the next equals it; zero is zero, whatever its sign.
    sorted.chunk_by(|a, b| a >= b).map(<[f64]>::len).collect()
}

/// Two-sided probability over all orders of the values.
fn exact(s: i64, ties: &[usize]) -> f64 {
    let counts = orders_by_falls(ties);
    // Every untied pair rises or falls, so the pairs that fall tell S.
    let n_untied = i64::try_from(counts.len()).map_or(0, |len| len - 1);
    let mut n_as_far: u64 = 0;
    let mut n_all: u64 = 0;
    for (n_falls, n_orders) in (0..).zip(&counts) {
        let other_s: i64 = n_untied - 2 * n_falls;
        n_all += n_orders;
        if other_s.abs() >= s.abs() {
            n_as_far += n_orders;
        }
    }
    #[expect(clippy::cast_precision_loss, reason = "10! orders at most")]
    {
        n_as_far as f64 / n_all as f64
    }
}

/// How many orders of the values have 0, 1, 2 … pairs that fall: the coefficients of the Gaussian multinomial
/// `[n]! / ([t1]! [t2]! …)` with `[k]! = Π (1 + q + … + q^(j-1))` (`MacMahon`, Combinatory Analysis, 1915).
fn orders_by_falls(ties: &[usize]) -> Vec<u64> {
    let mut counts = vec![1_u64];
    let mut n_placed = 0;
    for &n_equal in ties {
        for nth in 1..=n_equal {
            // One value more: times [n_placed + 1], over [nth].
            n_placed += 1;
            counts = over(&times(&counts, n_placed), nth);
        }
    }
    counts
}

/// A polynomial times `1 + q + … + q^(terms-1)`.
fn times(counts: &[u64], n_terms: usize) -> Vec<u64> {
    let mut product = vec![0; counts.len() + n_terms - 1];
    for (at, count) in counts.iter().enumerate() {
        for slot in &mut product[at..at + n_terms] {
            *slot += count;
        }
    }
    product
}

/// A polynomial over `1 + q + … + q^(terms-1)`, which divides it.
fn over(counts: &[u64], n_terms: usize) -> Vec<u64> {
    let mut quotient: Vec<u64> = Vec::with_capacity(counts.len() + 1 - n_terms);
    for (at, count) in counts.iter().enumerate().take(counts.len() + 1 - n_terms) {
        let from = (at + 1).saturating_sub(n_terms);
        let taken: u64 = quotient[from..].iter().sum();
        quotient.push(count - taken);
    }
    quotient
}

/// Two-sided probability by the normal approximation, with its corrections for ties and for the step of S.
fn approximate(s: i64, ties: &[usize]) -> f64 {
    let variance = variance(ties);
    if variance <= 0.0 {
        return 1.0;
    }
    #[expect(clippy::cast_precision_loss, reason = "pairs of a few hundred sessions")]
    let size = (s.abs() - 1).max(0) as f64;
    normal::two_sided(size / variance.sqrt())
}

/// Variance of S over all orders of values with these groups of equal ones.
pub(super) fn variance(ties: &[usize]) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "a few hundred sessions")]
    let share = |n: usize| {
        let n = n as f64;
        n * (n - 1.0) * (2.0 * n + 5.0) / 18.0
    };
    share(ties.iter().sum()) - ties.iter().map(|&n_equal| share(n_equal)).sum::<f64>()
}
