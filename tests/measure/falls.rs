//! Decay from sudden stops: bands that break off in simulated halls of known decay.

#![expect(clippy::cast_possible_truncation, reason = "signals are made in double precision")]

use deskside::measure::falls::{Falls, FallsMeter, OCTAVES_HZ};
use deskside::unit::Unmeasured;

use crate::support::feeding::measure_whole;
use crate::support::rooms::{self, RATE_HZ, SHAPE, band_with_stops, convolved, pink};
use crate::support::signals::{Rng, noise, sine};

fn falls(plane: &[f32]) -> Vec<Falls> {
    let found =
        measure_whole(RATE_HZ, &[plane], FallsMeter::new, FallsMeter::push, FallsMeter::finish);
    found.into_iter().map(|mut octave| octave.remove(0)).collect()
}

/// A band of 40 s in a hall, and the decay times of the hall from 500 Hz to 4 kHz.
fn in_a_hall(seed: u64) -> (Vec<f32>, [f64; 4]) {
    let mut rng = Rng::new(seed);
    let t60_s = 0.35 * (2.0f64 / 0.35).powf(rng.even());
    let times = SHAPE.map(|shape| shape * t60_s);
    let late_db = 2.0 + 8.0 * rng.even();
    let response = rooms::response(&mut rng, times, late_db, 1.3 * times[0]);
    let sound = convolved(&band_with_stops(&mut rng, 40.0), &response);
    let peak = sound.iter().fold(0.0f64, |peak, x| peak.max(x.abs()));
    let floor_dbfs = -58.0 - 17.0 * rng.even();
    let floor = pink(&mut rng, 10f64.powf(floor_dbfs / 20.0), 40 * 48_000);
    let plane = floor.iter().zip(&sound).map(|(floor, x)| (floor + 0.5 * x / peak) as f32);
    (plane.collect(), [times[3], times[4], times[5], times[6]])
}

#[test]
fn nine_of_ten_octaves_that_are_answered_lie_within_a_fifth() {
    let (mut answered, mut right, mut sure, mut surely_right) = (0, 0, 0, 0);
    for seed in 0..16 {
        let (plane, truth) = in_a_hall(seed);
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
