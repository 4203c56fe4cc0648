//! Tests of `dsp::oversample`; the published cases are tested in `measure::true_peak`.

#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "signals are made in double precision, places are small"
)]

use deskside::dsp::lanes::Isa;
use deskside::dsp::oversample::PeakFinder;

use crate::support::feeding::assert_near;
use crate::support::signals::{Rng, shaped_noise, sine};

/// Asked accuracy up to 0.45 of the rate.
const TOLERANCE_DB: f64 = 0.1;

fn peak_db(samples: &[f32]) -> f64 {
    let mut finder = PeakFinder::new(Isa::best());
    finder.push(samples);
    20.0 * finder.finish().expect("there is sound").size.log10()
}

/// The slow twin: every point of 64 a sample, by a windowed sinc of 200 samples on either side.
fn truth_db(samples: &[f32]) -> f64 {
    const REACH: isize = 200;
    let mut top = 0.0f64;
    for point in 0..samples.len() * 64 {
        let at = point as f64 / 64.0;
        let nearest = at as isize;
        // Points where the signal is low cannot be the highest.
        let around =
            (nearest - 1..=nearest + 2).filter_map(|n| samples.get(usize::try_from(n).ok()?));
        if around.fold(0.0f32, |most, sample| most.max(sample.abs())) < 0.35 {
            continue;
        }
        let near = (nearest - REACH..=nearest + REACH).filter(|&n| n >= 0);
        let sum: f64 = near
            .filter_map(|n| samples.get(n as usize).map(|&sample| (n as f64 - at, sample)))
            .map(|(off, sample)| {
                let turned = std::f64::consts::PI * off;
                let sinc = if off.abs() < 1e-9 { 1.0 } else { turned.sin() / turned };
                let window =
                    (std::f64::consts::FRAC_PI_2 * off / (REACH as f64 + 1.0)).cos().powi(2);
                f64::from(sample) * sinc * window
            })
            .sum();
        top = top.max(sum.abs());
    }
    20.0 * top.log10()
}

#[test]
fn noise_below_0_45_of_the_rate_reads_within_0_1_db_of_the_slow_twin() {
    for seed in 0..5 {
        let density = |frequency_hz: f64| if frequency_hz < 21_600.0 { 1.0 } else { 0.0 };
        let noise = shaped_noise(seed, 48_000, 1_024, 0.25, density);
        assert_near(peak_db(&noise), truth_db(&noise), TOLERANCE_DB, "peak of noise");
    }
}

#[test]
fn the_highest_point_is_found_wherever_it_lies() {
    // One crest of 0.9 between samples of a softer tone, at a random place of a random length: skipping must never pass it.
    let mut rng = Rng::new(11);
    for _ in 0..200 {
        let n_samples = 600 + (rng.bits() % 3_000) as usize;
        let place = 40.0 + rng.even() * (n_samples as f64 - 80.0);
        let mut signal = sine(48_000, 300.0 + 9_000.0 * rng.even(), 0.4, 0.0, n_samples);
        for (n, sample) in signal.iter_mut().enumerate() {
            // A Gaussian bump of 1.2 samples width is band-limited to well below 0.45 of the rate.
            let off = (n as f64 - place) / 1.2;
            *sample = (f64::from(*sample) * (1.0 - (-off * off / 8.0).exp())
                + 0.9 * (-off * off / 2.0).exp()) as f32;
        }
        assert_near(peak_db(&signal), 20.0 * 0.9f64.log10(), TOLERANCE_DB, "the bump");
    }
}

#[test]
fn a_higher_point_is_never_skipped_because_of_what_came_before() {
    // A burst reads the same alone and behind a tone that is 0.1 dB lower, though by then most stretches are skipped. At a
    // quarter of the rate the samples of a burst lie 3 dB below its crests: nothing but the bound keeps it from being skipped.
    let mut rng = Rng::new(12);
    for round in 0..300 {
        let n_samples = 100 + (rng.bits() % 900) as usize;
        let frequency_hz = if round % 2 == 0 { 12_000.0 } else { 21_000.0 * rng.even() + 100.0 };
        let mut burst = sine(48_000, frequency_hz, 0.8, 45.0, n_samples);
        for (n, sample) in burst.iter_mut().enumerate() {
            *sample *= (std::f32::consts::PI * n as f32 / n_samples as f32).sin().powi(2);
        }
        let alone = peak_db(&burst);
        let softer = 10f64.powf((alone - 0.1) / 20.0);
        let mut behind = sine(48_000, 100.0, softer, 0.0, 2_000 + round);
        behind.extend([0.0; 100]);
        // The tone ends anywhere: its cut must not ring.
        let n_tone = 2_000 + round;
        for n in 0..500 {
            behind[n_tone - 1 - n] *= (n as f32 / 500.0).powi(2);
        }
        behind.extend(burst);
        assert_near(peak_db(&behind), alone, 1e-9, "burst behind a tone");
    }
}

#[test]
fn silence_has_no_highest_point() {
    let mut finder = PeakFinder::new(Isa::best());
    finder.push(&[0.0; 1_000]);
    assert_eq!(finder.finish(), None, "no value is no value");
}
