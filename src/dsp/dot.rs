//! Inner product of two slices.
//!
//! Takes two slices, gives the sum of the products. Eight sums side by side: a single one would wait for each addition.

/// Inner product; what one slice has more than the other is left out.
pub fn dot(a: &[f32], b: &[f32]) -> f32 {
    let len = a.len().min(b.len());
    let ((a, rest_a), (b, rest_b)) = (a[..len].as_chunks::<8>(), b[..len].as_chunks::<8>());
    let mut sums = [0.0f32; 8];
    for (x, y) in a.iter().zip(b) {
        for lane in 0..8 {
            sums[lane] += x[lane] * y[lane];
        }
    }
    sums.iter().sum::<f32>() + rest_a.iter().zip(rest_b).map(|(x, y)| x * y).sum::<f32>()
}
