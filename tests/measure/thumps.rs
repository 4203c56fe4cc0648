//! Knocks and rustle: planted ones are found, hits of drums, notes and steady noise are none.
//!
//! Source: planted truth; what hands do to a microphone is common practice.

use deskside::dsp::Group;
use deskside::measure::above::AboveMeter;
use deskside::measure::thumps::{knocks_at_s, of_source, rustles};
use deskside::measure::{LevelMeter, ThirdsMeter};
use deskside::unit::Span;

use crate::support::planted::{Dice, RATE_HZ, amplitude, float, samples};

/// Half a minute of what a microphone hears in a pause.
fn pause() -> Vec<f64> {
    Dice::new(3).dark_noise(800.0, amplitude(-55.0), samples(30.0))
}

/// Adds a tone that rings out, in seconds to 60 dB.
fn strike(x: &mut [f64], at_s: f64, hz: f64, top_db: f64, ring_s: f64) {
    for n in 0..samples(1.5 * ring_s).min(x.len() - samples(at_s)) {
        let t_s = n as f64 / f64::from(RATE_HZ);
        let sound = (std::f64::consts::TAU * hz * t_s).sin();
        x[samples(at_s) + n] += amplitude(top_db - 60.0 * t_s / ring_s) * sound;
    }
}

fn knocks(x: &[f64]) -> Vec<f64> {
    let x = float(x);
    let planes = [x.as_slice()];
    let group = Group::new(&planes, RATE_HZ);
    let (mut levels, mut above) =
        (LevelMeter::new(RATE_HZ, 1), AboveMeter::new(RATE_HZ, &[true], 120.0));
    levels.push(group);
    above.push(group);
    let above = above.finish().remove(0).expect("asked for");
    knocks_at_s(&levels.finish().remove(0).power, &above)
}

fn rustling(x: &[f64]) -> Vec<Span> {
    let x = float(x);
    let planes = [x.as_slice()];
    let mut thirds = ThirdsMeter::new(RATE_HZ, 1);
    thirds.push(Group::new(&planes, RATE_HZ));
    rustles(&thirds.finish().remove(0), &[Span::new(1.0, 29.0)])
}

#[test]
fn cloth_and_knocks_that_pass_for_the_source_are_no_source() {
    let mut x = pause();
    let add = |x: &mut [f64], from_s: f64, length_s: f64, sound: &[f64]| {
        let here = x[samples(from_s)..samples(from_s + length_s)].iter_mut();
        here.zip(sound).for_each(|(x, sound)| *x += sound);
    };
    let voice = Dice::new(5).dark_noise(800.0, amplitude(-22.0), samples(6.0));
    // From sample to sample: little is left below.
    let hiss = Dice::new(6).noise(amplitude(-30.0), samples(2.0));
    let cloth: Vec<f64> = hiss.windows(2).map(|pair| 0.5 * (pair[0] - pair[1])).collect();
    let (words, short, rub, knock) =
        (Span::new(2.0, 8.0), Span::new(22.0, 22.15), Span::new(12.0, 13.5), Span::new(17.0, 17.4));
    add(&mut x, words.start_s, words.length_s(), &voice);
    add(&mut x, short.start_s, short.length_s(), &voice);
    add(&mut x, rub.start_s, rub.length_s(), &cloth);
    strike(&mut x, knock.start_s, 60.0, -24.0, 0.3);
    let x = float(&x);
    let planes = [x.as_slice()];
    let mut thirds = ThirdsMeter::new(RATE_HZ, 1);
    thirds.push(Group::new(&planes, RATE_HZ));
    let found = of_source(&thirds.finish().remove(0), &[words, rub, knock, short]);
    assert_eq!(found, [words, short], "a word of 0.15 s is one");
}

#[test]
fn knocks_on_a_stand_are_found_at_their_times() {
    let planted_s = [4.2, 11.7, 20.1];
    let mut x = pause();
    for (at_s, hz) in planted_s.into_iter().zip([45.0, 70.0, 95.0]) {
        strike(&mut x, at_s, hz, -28.0, 0.25);
    }
    let found = knocks(&x);
    assert_eq!(found.len(), 3, "{found:?}");
    for (found_s, planted_s) in found.iter().zip(planted_s) {
        assert!((found_s - planted_s).abs() <= 0.04, "{found:?}");
    }
}

#[test]
fn notes_of_middle_pitch_long_notes_and_noise_are_no_knocks() {
    let mut x = pause();
    strike(&mut x, 5.0, 300.0, -25.0, 0.25);
    strike(&mut x, 12.0, 60.0, -25.0, 4.0);
    let found = knocks(&x);
    assert!(found.is_empty(), "a tap of 300 Hz, a bass note: {found:?}");
    assert!(knocks(&pause()).is_empty(), "noise");
}

#[test]
fn cloth_is_found_and_words_are_not() {
    let mut x = pause();
    let cloth = Dice::new(9).noise(amplitude(-35.0), samples(0.5));
    // A high-pass of first order: cloth has little below 1 kHz.
    let mut last = [0.0; 2];
    for (n, cloth) in cloth.into_iter().enumerate() {
        last = [0.85 * (last[0] + cloth - last[1]), cloth];
        x[samples(10.1) + n] += last[0];
    }
    let found = rustling(&x);
    assert_eq!(found.len(), 1, "{found:?}");
    assert!((found[0].start_s - 10.1).abs() <= 0.21, "{found:?}");
    let mut words = pause();
    let voice = Dice::new(4).dark_noise(600.0, amplitude(-25.0), samples(0.5));
    voice.iter().enumerate().for_each(|(n, voice)| words[samples(10.1) + n] += voice);
    assert!(rustling(&words).is_empty(), "a voice has its power lower down");
}
