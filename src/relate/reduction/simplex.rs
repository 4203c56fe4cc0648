//! The least value of a function of some numbers, and a median with weights.
//!
//! Takes a start and steps, gives the best point within a number of evaluations. Never needs a slope.

/// The value below which half of the weight lies.
pub(super) fn weighted_median(pairs: &[(f64, f64)]) -> f64 {
    let mut sorted = pairs.to_vec();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let half = 0.5 * sorted.iter().map(|pair| pair.1).sum::<f64>();
    let mut sum = 0.0;
    let reached = sorted.iter().find(|pair| {
        sum += pair.1;
        sum >= half
    });
    reached.map_or(0.0, |pair| pair.0)
}

/// The least value that a simplex finds within a number of evaluations, and where.
pub(super) fn nelder_mead<const N: usize>(
    start: [f64; N],
    steps: [f64; N],
    most: usize,
    mut value: impl FnMut(&[f64; N]) -> f64,
) -> (f64, [f64; N]) {
    let mut corners: Vec<(f64, [f64; N])> = vec![(value(&start), start)];
    for (axis, step) in steps.iter().enumerate() {
        let mut corner = start;
        corner[axis] += step;
        corners.push((value(&corner), corner));
    }
    let mut n_done = N + 1;
    while n_done < most {
        corners.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (best, worst) = (corners[0], corners[N]);
        #[expect(clippy::cast_precision_loss, reason = "a few corners")]
        let centre: [f64; N] = std::array::from_fn(|axis| {
            corners[..N].iter().map(|corner| corner.1[axis]).sum::<f64>() / N as f64
        });
        let mut at = |factor: f64| {
            let point: [f64; N] =
                std::array::from_fn(|axis| centre[axis] + factor * (worst.1[axis] - centre[axis]));
            n_done += 1;
            (value(&point), point)
        };
        let mirrored = at(-1.0);
        let next = if mirrored.0 < best.0 {
            let farther = at(-2.0);
            if farther.0 < mirrored.0 { farther } else { mirrored }
        } else if mirrored.0 < corners[N - 1].0 {
            mirrored
        } else {
            let nearer = at(if mirrored.0 < worst.0 { -0.5 } else { 0.5 });
            if nearer.0 < worst.0.min(mirrored.0) { nearer } else { worst }
        };
        if next.0 < worst.0 {
            corners[N] = next;
            continue;
        }
        for corner in corners.iter_mut().skip(1) {
            corner.1 = std::array::from_fn(|axis| 0.5 * (corner.1[axis] + best.1[axis]));
            corner.0 = value(&corner.1);
            n_done += 1;
        }
    }
    corners.sort_by(|a, b| a.0.total_cmp(&b.0));
    corners[0]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_simplex_finds_the_bottom_of_a_bowl() {
        let bowl = |at: &[f64; 2]| (at[0] - 3.0).powi(2) + 10.0 * (at[1] + 1.0).powi(2);
        let (least, at) = nelder_mead([0.0, 0.0], [1.0, 1.0], 200, bowl);
        assert!(least < 1e-8 && (at[0] - 3.0).abs() < 1e-3, "least {least} at {at:?}");
    }

    #[test]
    fn a_median_weighs() {
        assert!((weighted_median(&[(3.0, 1.0), (1.0, 1.0), (2.0, 5.0)]) - 2.0).abs() < 1e-12);
    }
}
