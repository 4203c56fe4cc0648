//! Decay from sudden stops: bands that break off in simulated halls of known decay.

use deskside::measure::falls::{Falls, FallsMeter, OCTAVES_HZ};
use deskside::unit::Unmeasured;

use crate::support::feeding::measure_whole;
use crate::support::rooms::{RATE_HZ, band_in_a_hall};
use crate::support::signals::{noise, sine};

fn falls(plane: &[f32]) -> Vec<Falls> {
    let found =
        measure_whole(RATE_HZ, &[plane], FallsMeter::new, FallsMeter::push, FallsMeter::finish);
    found.into_iter().map(|mut octave| octave.remove(0)).collect()
}

#[test]
fn nine_of_ten_octaves_that_are_answered_lie_within_a_fifth() {
    let (mut answered, mut right, mut sure, mut surely_right) = (0, 0, 0, 0);
    for seed in 0..16 {
        let (plane, truth) = band_in_a_hall(seed);
        for (found, truth_s) in falls(&plane).iter().zip(truth) {
            let Some(found_s) = found.t60_s.value() else { continue };
            let is_right = (found_s / truth_s - 1.0).abs() <= 0.2;
            answered += 1;
            right += usize::from(is_right);
            if found.t60_s.confidence() >= 0.9 {
                sure += 1;
                surely_right += usize::from(is_right);
            }
        }
    }
    assert!(answered >= 40, "{answered} of 64 octaves are answered");
    assert!(right * 10 >= answered * 9, "{right} of {answered} within 20 %");
    assert!(surely_right * 10 >= sure * 9, "{surely_right} of {sure} sure ones within 20 %");
}

#[test]
fn nothing_is_said_below_500_hz() {
    assert!(OCTAVES_HZ.iter().all(|&mid_hz| mid_hz > 400.0), "{OCTAVES_HZ:?}");
}

#[test]
fn what_never_stops_has_no_decay() {
    for plane in [noise(1, 0.1, 480_000), sine(RATE_HZ, 1_000.0, 0.5, 0.0, 480_000)] {
        for found in falls(&plane) {
            assert_eq!(found.t60_s.value(), None, "{found:?}");
        }
    }
    let silent = falls(&[0.0; 96_000]);
    assert!(
        silent.iter().all(|octave| octave.t60_s.reason() == Some(&Unmeasured::Silent)),
        "{silent:?}"
    );
}

#[test]
fn a_dry_gate_that_shuts_is_no_decay() {
    // Noise that is cut dead every second: the filters ring, no hall does.
    let mut plane = noise(2, 0.1, 480_000);
    for (at, x) in plane.iter_mut().enumerate() {
        *x *= if at % 48_000 < 24_000 { 1.0 } else { 0.0001 };
    }
    for found in falls(&plane) {
        assert_eq!(found.t60_s.value(), None, "{found:?}");
    }
}

#[test]
fn octaves_above_half_the_rate_are_left_out() {
    assert_eq!(FallsMeter::new(8_000, 1).finish().len(), 3, "500 Hz to 2 kHz of an 8 kHz file");
}
