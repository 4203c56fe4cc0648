//! Bursts: claps in simulated halls are found, music and single drums in a band are not.

#![expect(clippy::cast_possible_truncation, reason = "signals are made in double precision")]

use deskside::measure::burst::bursts;
use deskside::measure::{LevelMeter, Trace};

use crate::support::feeding::measure_whole;
use crate::support::rooms::{self, RATE_HZ, SHAPE, band_with_stops, clap, convolved, pink};
use crate::support::signals::Rng;

fn levels(plane: &[f32]) -> Trace {
    measure_whole(RATE_HZ, &[plane], LevelMeter::new, LevelMeter::push, LevelMeter::finish)
        .remove(0)
        .power
}

/// Noise of the hall for 8 s, with a clap at 3 s, in a hall of so many seconds.
fn clapped(seed: u64, t60_s: f64, floor_dbfs: f64) -> Vec<f32> {
    let mut rng = Rng::new(seed);
    let response = rooms::response(&mut rng, SHAPE.map(|shape| shape * t60_s), 6.0, 2.0);
    let sound = convolved(&clap(&mut rng), &response);
    let peak = sound.iter().fold(0.0f64, |peak, x| peak.max(x.abs()));
    let mut plane = pink(&mut rng, 10f64.powf(floor_dbfs / 20.0), 8 * RATE_HZ as usize);
    for (at, x) in sound.iter().enumerate().take(5 * RATE_HZ as usize) {
        plane[3 * RATE_HZ as usize + at] += 0.5 * x / peak;
    }
    plane.iter().map(|&x| x as f32).collect()
}

#[test]
fn a_clap_in_a_quiet_hall_is_found_at_its_time() {
    for (seed, t60_s) in [(1, 0.6), (2, 1.0), (3, 1.6), (4, 2.2)] {
        let found = bursts(&levels(&clapped(seed, t60_s, -75.0)));
        assert_eq!(found.len(), 1, "hall of {t60_s} s");
        assert!((found[0].start_s - 3.0).abs() < 0.05, "{:?}", found[0]);
    }
}

#[test]
fn a_clap_that_the_noise_hides_is_none() {
    assert!(bursts(&levels(&clapped(5, 1.0, -25.0))).is_empty(), "25 dB are too few");
}

#[test]
fn a_band_that_stops_is_no_burst() {
    let mut rng = Rng::new(6);
    let response = rooms::response(&mut rng, SHAPE, 6.0, 1.5);
    let sound = convolved(&band_with_stops(&mut rng, 30.0), &response);
    let peak = sound.iter().fold(0.0f64, |peak, x| peak.max(x.abs()));
    let plane: Vec<f32> = sound.iter().map(|x| (0.5 * x / peak) as f32).collect();
    assert!(bursts(&levels(&plane)).is_empty(), "music goes on before and behind its hits");
}

#[test]
fn silence_and_a_short_take_hold_none() {
    assert!(bursts(&levels(&[0.0; 96_000])).is_empty(), "silence");
    assert!(bursts(&levels(&[0.5; 100])).is_empty(), "a hundred samples");
}
