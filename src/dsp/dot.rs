//! Inner product of two slices.
//!
//! Takes two slices, gives the sum of the products. Eight sums side by side: a single one would wait for each addition.

use std::ops::{Add, Mul};

/// Inner product; what one slice has more than the other is left out.
pub fn dot<T: Copy + Default + Add<Output = T> + Mul<Output = T>>(a: &[T], b: &[T]) -> T {
    let len = a.len().min(b.len());
    let ((a, rest_a), (b, rest_b)) = (a[..len].as_chunks::<8>(), b[..len].as_chunks::<8>());
    let mut sums = [T::default(); 8];
    for (x, y) in a.iter().zip(b) {
        for lane in 0..8 {
            sums[lane] = sums[lane] + x[lane] * y[lane];
        }
    }
    let sum = |all: T, one: T| all + one;
    let rest = rest_a.iter().zip(rest_b).map(|(x, y)| *x * *y).fold(T::default(), sum);
    sums.into_iter().fold(T::default(), sum) + rest
}
