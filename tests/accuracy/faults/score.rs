//! Counts of what was found, missed and invented.
//!
//! Takes planted and found moments, gives a score; pure functions.

/// What was found of what was planted.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Score {
    /// Planted and found.
    pub(crate) n_found: usize,
    /// Planted and not found.
    pub(crate) n_missed: usize,
    /// Found and not planted.
    pub(crate) n_false: usize,
}

impl Score {
    /// Moments against moments: each counts once, with the nearest that is left within `within_s`.
    pub(crate) fn of(planted_s: &[f64], found_s: &[f64], within_s: f64) -> Self {
        let mut left = found_s.to_vec();
        let mut n_found = 0;
        for at_s in planted_s {
            let away = |found_s: &f64| (found_s - at_s).abs();
            let nearest =
                (0..left.len()).min_by(|&a, &b| away(&left[a]).total_cmp(&away(&left[b])));
            if let Some(nearest) = nearest.filter(|&idx| away(&left[idx]) <= within_s) {
                left.remove(nearest);
                n_found += 1;
            }
        }
        Self { n_found, n_missed: planted_s.len() - n_found, n_false: left.len() }
    }

    /// A clip as a whole: whether a fault is in it, and whether one was found.
    pub(crate) fn of_clip(is_planted: bool, is_found: bool) -> Self {
        Self {
            n_found: usize::from(is_planted && is_found),
            n_missed: usize::from(is_planted && !is_found),
            n_false: usize::from(!is_planted && is_found),
        }
    }

    /// Adds another.
    pub(crate) fn add(&mut self, other: Self) {
        self.n_found += other.n_found;
        self.n_missed += other.n_missed;
        self.n_false += other.n_false;
    }

    /// Harmonic mean of the share that was found and the share that is right; none where nothing was planted or found.
    pub(crate) fn f1(&self) -> Option<f64> {
        let all = 2 * self.n_found + self.n_missed + self.n_false;
        (all > 0).then(|| 2.0 * self.n_found as f64 / all as f64)
    }
}
