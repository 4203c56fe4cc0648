//! Tests of `dsp::steps`.

use deskside::dsp::steps::Steps;

#[test]
fn steps_of_10_ms_are_even_where_the_rate_divides() {
    for (rate_hz, expected) in [(48_000, 480), (44_100, 441), (96_000, 960), (32_000, 320)] {
        let mut steps = Steps::new(rate_hz, 100);
        assert!((0..1_000).all(|_| steps.take() == expected), "{rate_hz} Hz: {expected} samples");
    }
}

#[test]
fn steps_never_drift_where_the_rate_does_not_divide() {
    let mut steps = Steps::new(11_025, 100);
    let total: usize = (0..100 * 3_600).map(|_| steps.take()).sum();
    assert_eq!(total, 11_025 * 3_600, "an hour of steps is an hour of samples");
}
