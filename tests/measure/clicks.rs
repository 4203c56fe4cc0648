//! Clicks: planted ones are found, hits and tones are none.

use deskside::measure::clicks::{ClickMeter, Clicks};

use crate::support::planted::{Dice, RATE_HZ, UNEVEN, in_blocks, mix, samples, sine, stored};

fn measure(plane: Vec<f32>, lengths: &[usize]) -> Clicks {
    let mut meter = ClickMeter::new(RATE_HZ, 1);
    in_blocks(&[plane], RATE_HZ, lengths, |group| meter.push(group));
    meter.finish().remove(0)
}

/// A plucked string: partials that decay, a new note each 400 ms, the old one damped before it. Cut off at once, it would click.
fn strings(time_s: f64) -> Vec<f64> {
    let mut x = Dice::new(4).dark_noise(500.0, 2e-4, samples(time_s));
    for (n, x) in x.iter_mut().enumerate() {
        let since_s = (n % samples(0.4)) as f64 / 48_000.0;
        let attack = (since_s / 0.003).min((0.4 - since_s) / 0.020).min(1.0);
        for partial in 1..=8 {
            let k = f64::from(partial);
            let decay = (-since_s * (3.0 + k)).exp() / k;
            *x += 0.15 * attack * decay * (std::f64::consts::TAU * 146.8 * k * since_s).sin();
        }
    }
    x
}

const PLANTED_S: [f64; 4] = [1.307, 2.219, 3.741, 5.111];

#[test]
fn planted_clicks_are_found_within_a_millisecond() {
    let mut x = strings(6.0);
    for at_s in PLANTED_S {
        x[samples(at_s)] += 0.12;
        x[samples(at_s) + 1] -= 0.05;
    }
    let found = measure(stored(&x, 24), &UNEVEN);
    assert_eq!(found.count, PLANTED_S.len(), "{found:?}");
    for (found_s, at_s) in found.at_s.iter().zip(PLANTED_S) {
        assert!((found_s - at_s).abs() < 0.001, "found {found_s}, planted {at_s}");
    }
}

#[test]
fn a_note_that_is_cut_off_at_once_clicks() {
    let mut x = strings(6.0);
    // The middle of a note, where it is loud: 0.1 s of it are missing.
    x.drain(samples(2.1)..samples(2.2));
    let found = measure(stored(&x, 24), &UNEVEN);
    assert_eq!(found.count, 1, "an edit: {found:?}");
    assert!((found.at_s[0] - 2.1).abs() < 0.001, "{found:?}");
}

/// A bow lets the string go once a period: single corners, as high as a click, but not alone. The bridge and the air round them off,
/// the more the lower `bright`.
fn bowed(hz: f64, bright: f64) -> Vec<f64> {
    let period = 48_000.0 / hz;
    let mut dice = Dice::new(8);
    let mut last = 0.0;
    (0..samples(6.0))
        .map(|n| {
            let saw = (n as f64 % period) / period - 0.5;
            last += bright * (0.3 * saw - last);
            last + 1e-4 * dice.normal()
        })
        .collect()
}

#[test]
fn a_bowed_string_has_none() {
    for (hz, bright) in [(65.4, 0.7), (98.0, 0.7), (131.0, 0.7), (131.0, 0.4), (220.0, 0.7)] {
        let found = measure(stored(&bowed(hz, bright), 24), &UNEVEN);
        assert_eq!(found.count, 0, "{hz} Hz: {found:?}");
    }
}

/// A corner's jump of 0.3 is spread over some samples, of which the first is the largest and leaves an error of 0.4 times 0.3; a click of
/// 0.35 is three times as high.
#[test]
fn clicks_between_the_corners_of_a_bowed_string_are_found() {
    let mut x = bowed(131.0, 0.4);
    let period = 48_000.0 / 131.0;
    let planted = [200, 330, 470, 610].map(|n| ((f64::from(n) + 0.3) * period) as usize);
    for at in planted {
        x[at] += 0.35;
    }
    let found = measure(stored(&x, 24), &UNEVEN);
    assert_eq!(found.count, planted.len(), "{found:?}");
    for (found_s, at) in found.at_s.iter().zip(planted) {
        assert!((48_000.0 * found_s - at as f64).abs() < 48.0, "found {found_s}, planted {at}");
    }
}

/// A note that begins 12 ms later makes the sound louder, but not by a click.
#[test]
fn a_click_just_before_a_note_is_found() {
    let mut x = strings(6.0);
    let planted_s = [1.588, 3.588];
    for at_s in planted_s {
        x[samples(at_s)] += 0.25;
    }
    let found = measure(stored(&x, 24), &UNEVEN);
    assert_eq!(found.count, planted_s.len(), "{found:?}");
}

/// Noise with a low-pass of first order at 100 Hz leaves an error of 0.16 times its RMS: `sqrt(1 - exp(-2 w))`. A sample that is 2.4 times
/// that RMS off is 15 times the error, of which the largest of 7 ms is 3 times.
#[test]
fn a_click_in_dark_noise_is_found() {
    let mut x = Dice::new(14).dark_noise(100.0, 0.05, samples(6.0));
    for at_s in PLANTED_S {
        x[samples(at_s)] += 0.12;
    }
    let found = measure(stored(&x, 24), &UNEVEN);
    assert_eq!(found.count, PLANTED_S.len(), "{found:?}");
}

/// White noise says nothing about its next sample: what is no higher than the noise can't be told from it, and noise itself
/// is none.
#[test]
fn noise_has_none() {
    let mut dice = Dice::new(15);
    let x: Vec<f64> = (0..samples(30.0)).map(|_| 0.1 * dice.normal()).collect();
    assert_eq!(measure(stored(&x, 24), &UNEVEN).count, 0, "white noise");
    let x = Dice::new(16).dark_noise(200.0, 0.1, samples(30.0));
    assert_eq!(measure(stored(&x, 24), &UNEVEN).count, 0, "dark noise");
}

#[test]
fn music_without_clicks_has_none() {
    assert_eq!(measure(stored(&strings(20.0), 24), &UNEVEN).count, 0, "plucked strings");
}

/// A published discontinuity detector takes pure tones for clicks.
#[test]
fn pure_tones_have_none() {
    for hz in [55.0, 440.0, 1000.0, 7000.0] {
        assert_eq!(measure(stored(&sine(hz, 0.7, 3.0), 24), &UNEVEN).count, 0, "{hz} Hz");
    }
}

#[test]
fn drum_hits_have_none() {
    let mut dice = Dice::new(6);
    let x: Vec<f64> = (0..samples(15.0))
        .map(|n| {
            let since_s = (n % samples(0.45)) as f64 / 48_000.0;
            let (skin, rattle) = ((-since_s * 18.0).exp(), (-since_s * 35.0).exp());
            0.5 * skin * (std::f64::consts::TAU * 190.0 * since_s).sin()
                + 0.2 * rattle * dice.normal()
                + 1e-4 * dice.normal()
        })
        .collect();
    assert_eq!(measure(stored(&x, 24), &UNEVEN).count, 0, "snare hits decay slower than a click");
}

/// An S that stops where a vowel begins: bright noise, then a tone, without a pause.
#[test]
fn end_of_an_s_is_no_click() {
    let mut dice = Dice::new(12);
    let x: Vec<f64> = (0..samples(12.0))
        .map(|n| {
            let place = n % samples(0.5);
            let (noise, last) = (dice.normal(), dice.normal());
            let tone = (std::f64::consts::TAU * 140.0 * n as f64 / 48_000.0).sin();
            let vowel = 0.03 * tone + 1e-4 * noise;
            if place < samples(0.12) { vowel + 0.02 * (noise - last) } else { vowel }
        })
        .collect();
    assert_eq!(measure(stored(&x, 24), &UNEVEN).count, 0, "24 of them");
}

#[test]
fn edges_of_a_known_fault_are_left_out() {
    let found = Clicks { count: 3, at_s: vec![1.0, 5.0, 5.1] };
    assert_eq!(
        found.without(&[4.999]),
        Clicks { count: 1, at_s: vec![1.0] },
        "two lie at a dropout"
    );
}

#[test]
fn result_does_not_depend_on_how_blocks_are_cut() {
    let mut x = mix(&strings(6.0), &sine(60.0, 0.1, 6.0));
    for at_s in PLANTED_S {
        x[samples(at_s)] += 0.3;
    }
    let plane = stored(&x, 24);
    let whole = measure(plane.clone(), &[1 << 22]);
    assert_eq!(whole.count, PLANTED_S.len(), "all are found: {whole:?}");
    assert_eq!(measure(plane.clone(), &UNEVEN), whole, "uneven blocks");
    assert_eq!(measure(plane, &[7]), whole, "few samples at a time");
}
