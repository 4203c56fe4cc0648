//! # Rate with its uncertainty
//!
//! How often something happens of the times it could have happened, and how far off so few times may be.
//!
//! - **Formula:** Wilson score interval, `(p + z²/2n ± z √(p(1-p)/n + z²/4n²)) / (1 + z²/n)`, with `p = hits / chances`,
//!   `n = chances` and `z = 1.96` (95 %)
//! - **Unit:** none, 0 to 1
//! - **Source:** Wilson, JASA 22 (1927); Newcombe, Statistics in Medicine 17 (1998), method 3
//! - **No value:** there was no chance
//! - **Misleads when:** the chances of one night hang together (the same singer in every song): the true interval is then wider

use super::normal::Z_95;

/// A share of chances, with its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rate {
    /// How often it happened.
    pub n_hits: u32,
    /// How often it could have.
    pub n_chances: u32,
    /// The share, 0 to 1.
    pub share: f64,
    /// Low end of the interval.
    pub low_share: f64,
    /// High end of it.
    pub high_share: f64,
}

impl Rate {
    /// The rate of so many hits; none without a chance.
    ///
    /// # Panics
    ///
    /// If there are more hits than chances.
    pub fn of(n_hits: u32, n_chances: u32) -> Option<Self> {
        assert!(n_hits <= n_chances, "{n_hits} hits of {n_chances} chances");
        if n_chances == 0 {
            return None;
        }
        let n = f64::from(n_chances);
        let share = f64::from(n_hits) / n;
        let z2 = Z_95 * Z_95;
        let middle = share + z2 / (2.0 * n);
        let side = Z_95 * (share * (1.0 - share) / n + z2 / (4.0 * n * n)).sqrt();
        let whole = 1.0 + z2 / n;
        // Rounding must not push an end past what is possible.
        let low_share = if n_hits == 0 { 0.0 } else { (middle - side) / whole };
        let high_share = if n_hits == n_chances { 1.0 } else { (middle + side) / whole };
        Some(Self { n_hits, n_chances, share, low_share, high_share })
    }
}
