//! Inner products with known sums.

use deskside::dsp::dot::dot;

#[test]
fn squares_of_the_first_numbers_sum_as_the_formula_says() {
    for n in [0u32, 1, 7, 8, 9, 100] {
        let numbers: Vec<f32> = (1..=n).map(|x| x as f32).collect();
        // n (n + 1) (2n + 1) / 6: every sum is a whole number below 2^24, so single precision is exact.
        let expected = (n * (n + 1) * (2 * n + 1) / 6) as f32;
        assert!((dot(&numbers, &numbers) - expected).abs() < 0.5, "{n}");
    }
}

#[test]
fn what_one_has_more_is_left_out() {
    assert!((dot(&[1.0f32, 2.0, 3.0], &[4.0, 5.0]) - 14.0).abs() < 1e-6);
}
