//! Tests of `measure::programme`.

use deskside::measure::programme::{integrated_over, momentary_lufs, short_term_lufs, together};
use deskside::measure::{Loudness, LoudnessMeter};
use deskside::unit::{Span, Unmeasured};

use crate::support::feeding::{assert_near, measure_whole};
use crate::support::signals::{programme, segments};

/// A trace is rounded to 0.0025 dB; means of rounded steps are nearer.
const TRACE_TOLERANCE_LU: f64 = 0.003;

/// The anchor of a 1 kHz tone instead of 997 Hz.
const TONE_TOLERANCE_LU: f64 = 0.01;

fn measure(planes: &[&[f32]]) -> Vec<Loudness> {
    measure_whole(48_000, planes, LoudnessMeter::new, LoudnessMeter::push, LoudnessMeter::finish)
}

#[test]
fn channels_together_agree_with_the_meter_of_a_programme() {
    let (left, right) = (programme(1, 48_000, 25.0), programme(2, 48_000, 25.0));
    let apart = measure(&[&left, &right]);
    let sum = together(&[&apart[0].k_power, &apart[1].k_power]);
    let new = |rate_hz, _| LoudnessMeter::of_programme(rate_hz, &[1.0, 1.0]);
    let exact =
        &measure_whole(48_000, &[&left, &right], new, LoudnessMeter::push, LoudnessMeter::finish)
            [0];
    for (found, expected) in [
        (sum.momentary_max_lufs, exact.momentary_max_lufs.clone()),
        (sum.short_term_max_lufs, exact.short_term_max_lufs.clone()),
        (sum.integrated_lufs, exact.integrated_lufs.clone()),
        (sum.range_lu, exact.range_lu.clone()),
    ] {
        let (found, expected) = (found.expect("a value"), expected.expect("a value"));
        assert_near(found, expected, TRACE_TOLERANCE_LU, "sum of two channels");
    }
}

#[test]
fn stretches_are_measured_on_their_own() {
    let plane = segments(48_000, &[(10.0, Some(-20.0)), (10.0, Some(-30.0)), (10.0, Some(-20.0))]);
    let loudness = &measure(&[&plane])[0];
    let k = [&loudness.k_power];
    let over = |spans: &[Span]| integrated_over(&k, spans).expect("a value");
    // One channel reads 3.01 LU less than two: -20 dBFS peak is -23.01.
    assert_near(over(&[Span::new(0.0, 10.0)]), -23.01, TONE_TOLERANCE_LU, "first");
    assert_near(over(&[Span::new(10.5, 20.0)]), -33.01, TONE_TOLERANCE_LU, "second");
    let both = over(&[Span::new(0.0, 10.0), Span::new(20.5, 30.0)]);
    assert_near(both, -23.01, TONE_TOLERANCE_LU, "first and third");
    // The whole, as one stretch, is what the meter says.
    let whole = *loudness.integrated_lufs.as_ref().expect("a value");
    assert_near(over(&[Span::new(0.0, 30.0)]), whole, TRACE_TOLERANCE_LU, "whole");
    assert_near(momentary_lufs(&k, 1_999).expect("sound"), -33.01, TONE_TOLERANCE_LU, "momentary");
    assert_near(short_term_lufs(&k, 999).expect("sound"), -23.01, TONE_TOLERANCE_LU, "short-term");
}

#[test]
fn what_has_no_loudness_says_why() {
    let plane = segments(48_000, &[(2.0, Some(-20.0)), (2.0, None)]);
    let loudness = &measure(&[&plane])[0];
    let k = [&loudness.k_power];
    let short = integrated_over(&k, &[Span::new(0.0, 0.25)]);
    assert_eq!(short, Err(Unmeasured::TooShort { have_s: 0.25, need_s: 0.4 }), "too short");
    assert_eq!(momentary_lufs(&k, 38), None, "the window begins too early");
    assert_eq!(short_term_lufs(&k, 400), None, "there is no such step");
    assert_eq!(loudness.range_lu, Err(Unmeasured::TooShort { have_s: 4.0, need_s: 20.0 }), "range");
}
