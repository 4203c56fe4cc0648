//! Tests of `measure::hits`, by planted hits and notes.

#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "signals are made in double precision, places are small"
)]

use std::f64::consts::TAU;

use deskside::measure::hits::{
    HITS_NEED, Hit, NOTES_NEED, hit_peak_dbfs, hits, hits_per_s, note_spread_db, notes,
};
use deskside::measure::{LevelMeter, Levels};
use deskside::unit::{Span, Unmeasured};

use crate::support::feeding::{all_of, assert_near, measure_whole};
use crate::support::signals::{Rng, noise, samples, scaled};

/// A step of 10 ms.
const TIME_TOLERANCE_S: f64 = 0.011;

/// Rounding of the trace, and a crest that falls between samples.
const PEAK_TOLERANCE_DB: f64 = 0.05;

fn measure(plane: &[f32]) -> Levels {
    let levels =
        measure_whole(48_000, &[plane], LevelMeter::new, LevelMeter::push, LevelMeter::finish);
    levels.into_iter().next().expect("one channel, one result")
}

/// Adds a decaying tone: `amplitude sin(2 pi f t) exp(-t / decay)` from a time on.
fn strike(plane: &mut [f32], at_s: f64, frequency_hz: f64, amplitude: f64, decay_s: f64) {
    for (n, sample) in plane.iter_mut().skip(samples(48_000, at_s)).enumerate() {
        let time_s = n as f64 / 48_000.0;
        let decayed = amplitude * (-time_s / decay_s).exp();
        *sample += (decayed * (TAU * frequency_hz * time_s).sin()) as f32;
    }
}

#[test]
fn planted_hits_are_found_with_their_peaks() {
    let mut plane = noise(1, 3e-4, 20 * 48_000);
    let mut rng = Rng::new(2);
    let planted: Vec<(f64, f64)> = (0..60)
        .map(|n| (0.25 + 0.32 * f64::from(n) + 0.1 * rng.even(), 0.1 + 0.4 * rng.even()))
        .collect();
    for &(at_s, amplitude) in &planted {
        // A quarter of a period of 1 kHz is 12 samples: the crest is one of them.
        strike(&mut plane, at_s, 1_000.0, amplitude, 0.04);
    }
    let all = all_of(48_000, &plane);
    let found = hits(&measure(&plane).peak, &all);
    assert_eq!(found.len(), planted.len(), "as many as were planted");
    for (hit, &(at_s, amplitude)) in found.iter().zip(&planted) {
        assert_near(hit.at_s, at_s, TIME_TOLERANCE_S, "time");
        let crest = 20.0 * (amplitude * (-0.00025f64 / 0.04).exp()).log10();
        assert_near(hit.level_dbfs, crest, PEAK_TOLERANCE_DB, "peak");
    }
    assert_near(hits_per_s(&found, &all).expect("a value"), 3.0, 1e-9, "60 hits in 20 s");
}

#[test]
fn soft_spill_between_hits_does_not_count_and_gain_moves_the_figure() {
    let mut plane = noise(1, 1e-4, 10 * 48_000);
    for n in 0..10 {
        strike(&mut plane, 0.5 + 0.9 * f64::from(n), 1_000.0, 0.5, 0.05);
        // A neighbour's drum, 34 dB below.
        strike(&mut plane, 0.95 + 0.9 * f64::from(n), 1_000.0, 0.01, 0.05);
    }
    let found = hits(&measure(&plane).peak, &all_of(48_000, &plane));
    assert_eq!(found.len(), 10, "only the drum itself");
    let figure = hit_peak_dbfs(&found).expect("a value");
    assert_near(figure, 20.0 * 0.4975f64.log10(), PEAK_TOLERANCE_DB, "90th percentile");
    let soft = scaled(&plane, 0.25);
    let softer = hits(&measure(&soft).peak, &all_of(48_000, &soft));
    assert_near(hit_peak_dbfs(&softer).expect("a value"), figure - 12.041, 0.01, "a quarter");
}

#[test]
fn planted_note_levels_are_found_again() {
    // A bass: 41 to 98 Hz, 0.45 s apart, levels from -12 to -20 dB in turn.
    let mut plane = noise(1, 1e-5, 20 * 48_000);
    let levels = [-12.0, -20.0, -14.0, -18.0, -16.0];
    for n in 0..40 {
        let begin = samples(48_000, 0.3 + 0.45 * f64::from(n));
        let frequency_hz = 41.2 * 2f64.powf(f64::from(n * 7 % 16) / 12.0);
        let amplitude = 10f64.powf(levels[n as usize % 5] / 20.0);
        for at in 0..samples(48_000, 0.36) {
            let time_s = at as f64 / 48_000.0;
            let decayed = amplitude * (-time_s / 0.8).exp();
            plane[begin + at] += (decayed * (TAU * frequency_hz * time_s).sin()) as f32;
        }
    }
    let found = notes(&measure(&plane).power, &all_of(48_000, &plane));
    assert_eq!(found.len(), 40, "as many as were planted");
    for (n, note) in found.iter().enumerate() {
        let planted_s = 0.3 + 0.45 * n as f64;
        assert_near(note.at_s, planted_s, 0.03, "time");
        // Mean power of a decaying sine over 200 ms: P - 3.01 + 10 lg((1 - e^-0.5) / 0.5) = P - 4.05; periods don't fit.
        assert_near(note.level_dbfs, levels[n % 5] - 4.05, 0.8, "level");
    }
    // P10 of five equally frequent levels is the lowest, P90 the highest.
    assert_near(note_spread_db(&found).expect("a value"), 8.0, 0.8, "spread");
}

#[test]
fn few_events_have_no_figure() {
    let some = |n: usize| vec![Hit { at_s: 0.0, level_dbfs: -9.0 }; n];
    let reason = |have, need| Unmeasured::TooFewEvents { have, need };
    assert_eq!(hit_peak_dbfs(&some(4)), Err(reason(4, HITS_NEED)), "four hits");
    assert_eq!(note_spread_db(&some(7)), Err(reason(7, NOTES_NEED)), "seven notes");
    assert_eq!(hits_per_s(&[], &[]), Err(Unmeasured::NeverActive), "never active");
    let silent = measure(&[0.0; 48_000]);
    assert_eq!(hits(&silent.peak, &[Span::new(0.0, 1.0)]), [], "silence");
    assert_eq!(notes(&silent.power, &[Span::new(0.0, 1.0)]), [], "silence");
}
