//! Pairs on one source: planted delay, polarity and correlation are found.

use std::f64::consts::TAU;

use deskside::relate::{SameSource, SameSourceMeter};
use deskside::unit::Unmeasured;

use crate::support::planted::{Dice, RATE_HZ, UNEVEN, amplitude, mix, samples, stored};

const BODY_HZ: [f64; 2] = [60.0, 500.0];

fn measure(first: &[f64], second: &[f64], lengths: &[usize]) -> Result<SameSource, Unmeasured> {
    let (first, second) = (stored(first, 24), stored(second, 24));
    let mut meter = SameSourceMeter::new(RATE_HZ, BODY_HZ);
    let (mut from, mut turn) = (0, 0);
    while from < first.len() {
        let to = (from + lengths[turn % lengths.len()]).min(first.len());
        meter.push(&first[from..to], &second[from..to]);
        (from, turn) = (to, turn + 1);
    }
    meter.finish()
}

/// Notes of a bass: partials that decay, a new one each half second, with noise of fingers.
fn bass(delay_s: f64) -> Vec<f64> {
    let mut dice = Dice::new(5);
    let fingers: Vec<f64> = dice.dark_noise(1500.0, 1.0, samples(20.1));
    (0..samples(20.0))
        .map(|n| {
            let at_s = n as f64 / 48_000.0 - delay_s;
            let (note, since_s) = ((at_s / 0.5).floor(), at_s.rem_euclid(0.5));
            let hz = [55.0, 73.4, 82.4, 98.0][note.rem_euclid(4.0) as usize];
            let decay = (-since_s * 4.0).exp() * (since_s / 0.005).min(1.0);
            let partials = (1..=20).map(|k| {
                let k = f64::from(k);
                (TAU * hz * k * since_s + k * k).sin() / k
            });
            // Between two samples the noise is taken as a straight line: exact enough at 1.5 kHz.
            let place = at_s * 48_000.0 + 2000.0;
            let (floor, rest) = (place.floor() as usize, place.fract());
            let noise = fingers[floor] * (1.0 - rest) + fingers[floor + 1] * rest;
            0.15 * decay * partials.sum::<f64>() + 0.03 * noise
        })
        .collect()
}

/// Delays are searched in steps of 0.02 ms with a parabola between; a rule asks for 0.3 ms.
const DELAY_S: f64 = 2e-5;

#[test]
fn planted_delay_and_polarity_are_found() {
    for (delay_s, sign) in
        [(0.0, 1.0), (0.00073, 1.0), (-0.00041, -1.0), (0.0031, 1.0), (0.0012, -1.0)]
    {
        let first = bass(0.0);
        let second: Vec<f64> = bass(delay_s).iter().map(|x| 0.5 * sign * x).collect();
        let found = measure(&first, &second, &UNEVEN).unwrap();
        assert!((found.delay_s - delay_s).abs() < DELAY_S, "{found:?}, planted {delay_s} s");
        assert!((found.polarity - sign).abs() < 0.1, "{found:?}, planted {sign}");
        assert!(found.coherence.iter().all(|&coherence| coherence > 0.8), "{found:?}");
    }
}

/// Independent noise with r of the power on one side lowers the correlation to 1/sqrt(1 + r).
#[test]
fn noise_on_one_side_lowers_the_correlation_as_it_must() {
    let mut dice = Dice::new(9);
    let source = dice.dark_noise(3000.0, 0.1, samples(20.0));
    for noise_db in [-10.0, -3.0] {
        let noise = dice.dark_noise(3000.0, 0.1 * amplitude(noise_db), samples(20.0));
        let found = measure(&source, &mix(&source, &noise), &UNEVEN).unwrap();
        let expected = 1.0 / (1.0 + 10f64.powf(noise_db / 10.0)).sqrt();
        // 440 Hz x 20 s x 2 = 17 600 independent values: 0.01.
        assert!((found.body_correlation - expected).abs() < 0.02, "{found:?}, not {expected}");
    }
}

#[test]
fn different_sources_have_no_value() {
    let (first, second) = (Dice::new(1).noise(0.1, 480_000), Dice::new(2).noise(0.1, 480_000));
    let reason = Unmeasured::Because("the two channels hear different things");
    assert_eq!(measure(&first, &second, &UNEVEN), Err(reason), "independent noise");
}

#[test]
fn silence_and_a_single_knock_have_no_value() {
    let silence = vec![0.0; samples(20.0)];
    let need = Unmeasured::TooFewEvents { have: 0, need: 20 };
    assert_eq!(measure(&silence, &silence, &[4096]), Err(need), "silence");
    let mut knock = silence.clone();
    knock[100_000..104_000].copy_from_slice(&Dice::new(1).noise(0.3, 4000));
    let found = measure(&knock, &knock, &[4096]);
    assert!(matches!(found, Err(Unmeasured::TooFewEvents { .. })), "{found:?}");
}

#[test]
fn result_does_not_depend_on_how_blocks_are_cut() {
    let (first, second) = (bass(0.0), bass(0.0005));
    assert_eq!(measure(&first, &second, &UNEVEN), measure(&first, &second, &[1 << 22]), "uneven");
}
