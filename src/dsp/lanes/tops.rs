//! Which values of a row are larger than their neighbours.
//!
//! Takes a row, gives a mark for each value. Never keeps anything.

use super::isa::dispatch;

dispatch! {
    narrow
    /// Marks with 1 the values of a row that lie over `least`, over the next one and not below the one before; the others with 0. Mark `k`
    /// belongs to value `k + 1`.
    ///
    /// # Panics
    ///
    /// If there are not two values more than marks.
    pub fn mark_tops[](values: &[f32], least: f32, marks: &mut [u8]) {
        let n = marks.len();
        assert!(values.len() == n + 2, "a neighbour on either side");
        let (before, here, after) = (&values[..n], &values[1..=n], &values[2..]);
        for k in 0..n {
            marks[k] = u8::from((here[k] >= before[k]) & (here[k] > after[k]) & (here[k] > least));
        }
    }
}
