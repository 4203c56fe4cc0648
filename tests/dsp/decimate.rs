//! Decimation: tones in the band pass unchanged, tones that would fold onto it are gone.

use deskside::dsp::Decimator;
use deskside::dsp::lanes::{Frame, LANES};

use crate::support::planted::{Dice, float, tone};

fn rms(x: &[f32]) -> f64 {
    (x.iter().map(|&x| f64::from(x).powi(2)).sum::<f64>() / x.len() as f64).sqrt()
}

/// The same samples in every lane.
fn frames(samples: &[f32]) -> Vec<Frame> {
    samples.iter().map(|&sample| [sample; LANES]).collect()
}

fn decimated(hz: f64, rate_hz: f64, factor: usize) -> f64 {
    let mut decimator = Decimator::new(rate_hz, factor, 1000.0);
    let mut output = Vec::new();
    decimator.push(&frames(&float(&tone(hz, 1.0, 0.3, 200_000, rate_hz))), &mut output);
    let output: Vec<f32> = output.iter().map(|frame| frame[LANES - 1]).collect();
    // Skips the onset; a thousand samples or more, whole periods or not: the RMS is known within 0.1 %.
    20.0 * (rms(&output[200..]) * 2f64.sqrt()).log10()
}

/// The band is flat within 0.01 dB by design; another hundredth for the RMS of a cut sine.
const FLAT_DB: f64 = 0.02;

#[test]
fn tones_in_the_band_keep_their_level() {
    for (rate_hz, factor) in [(48_000.0, 16), (44_100.0, 14), (96_000.0, 32), (32_000.0, 7)] {
        for hz in [50.0, 333.0, 770.0, 990.0] {
            let level_db = decimated(hz, rate_hz, factor);
            assert!(level_db.abs() < FLAT_DB, "{hz} Hz at {rate_hz}: {level_db} dB");
        }
    }
}

/// A tone at the new rate minus f folds onto f.
#[test]
fn tones_that_would_fold_onto_the_band_are_80_db_down() {
    for (rate_hz, factor) in [(48_000.0, 16), (44_100.0, 14), (96_000.0, 32), (32_000.0, 7)] {
        let new_rate_hz = rate_hz / factor as f64;
        for fold in [1.0, 2.0, 4.0] {
            let level_db = decimated(fold * new_rate_hz - 700.0, rate_hz, factor);
            // f32 taps and sums leave some -100 dB; the design promises 80 with a ripple of a decibel.
            assert!(level_db < -79.0, "{fold} x {new_rate_hz} Hz - 700 Hz: {level_db} dB");
        }
    }
}

#[test]
fn output_lags_by_the_stated_delay() {
    let mut decimator = Decimator::new(48_000.0, 16, 1000.0);
    let mut pulse = vec![0.0f32; 16_000];
    pulse[8000] = 1.0;
    let mut output = Vec::new();
    decimator.push(&frames(&pulse), &mut output);
    let top = (0..output.len()).max_by(|&a, &b| output[a][0].total_cmp(&output[b][0])).unwrap();
    let lag = (16 * top) as i64 - 8000;
    assert!((lag - decimator.delay() as i64).abs() <= 8, "found {lag}, said {}", decimator.delay());
}

#[test]
fn output_does_not_depend_on_how_blocks_are_cut() {
    let noise = frames(&float(&Dice::new(1).noise(0.3, 60_000)));
    let run = |length: usize| {
        let mut decimator = Decimator::new(48_000.0, 16, 1000.0);
        let mut output = Vec::new();
        noise.chunks(length).for_each(|block| decimator.push(block, &mut output));
        output
    };
    assert_eq!(run(1), run(60_000), "single samples");
    assert_eq!(run(1009), run(60_000), "a prime number of samples");
}
