//! Stage piano: struck partials on two outputs.
//!
//! Takes notes, gives either output. Both are the same hammers and strings; low strings stand a little to the left, high ones to the
//! right, and each partial reaches the two sides at a slightly different time, as from two pickups.

use std::f64::consts::PI;

use crate::demo::random::Random;
use crate::demo::source::canvas::{Canvas, factor, frequency_hz, strength};
use crate::demo::source::filter::Filter;
use crate::demo::source::partials::{Bank, Partial};
use crate::demo::source::{Instrument, Note};

/// The most partials of a string: above these a piano has little to say.
const N_PARTIALS: u32 = 16;

/// Partials above this are left out, in Hz.
const HIGHEST_HZ: f64 = 9000.0;

/// Time for a damped string to fall by 60 dB, in seconds.
const DAMPED_S: f64 = 0.18;

/// Renders one output of the piano.
pub(super) fn render(
    instrument: Instrument,
    mut canvas: Canvas,
    notes: &[Note],
    seed: u64,
) -> Vec<f32> {
    let side = if instrument == Instrument::KeysLeft { -1.0 } else { 1.0 };
    for (idx, note) in (0..).zip(notes) {
        play(&mut canvas, note, side, Random::branch(seed, idx));
    }
    let rate_hz = canvas.rate_hz;
    canvas.finish(-18.9, &mut [Filter::high_pass(rate_hz, 30.0, 0.7)])
}

fn play(canvas: &mut Canvas, note: &Note, side: f64, mut random: Random) {
    let at_hz = frequency_hz(note.pitch);
    let loudness = strength(note.velocity);
    // Stiffness of the string raises its partials: about 2e-4 in the middle, more for short strings (Fletcher and Rossing).
    let stiffness = 2e-4 * ((note.pitch - 60.0) / 16.0).exp2();
    let partials: Vec<Partial> = (1..=N_PARTIALS)
        .map(|order| {
            let order = f64::from(order);
            let partial_hz = at_hz * order * (1.0 + stiffness * order * order).sqrt();
            let t60_s =
                7.0 * (110.0 / at_hz).powf(0.6) / (1.0 + 0.18 * order + partial_hz / 3000.0);
            Partial { at_hz: partial_hz, t60_s }
        })
        .take_while(|partial| partial.at_hz < HIGHEST_HZ)
        .collect();
    // The felt is harder for a harder blow.
    let felt_hz = 850.0 * loudness.powf(0.5) + 0.6 * at_hz;
    let lean = factor(side * 0.05 * (note.pitch - 60.0).clamp(-24.0, 24.0));
    let blows: Vec<(f64, f64)> = (1..)
        .zip(&partials)
        .map(|(order, partial)| {
            // A hammer at one eighth of the string leaves out each eighth partial.
            let place = (PI * f64::from(order) / 8.0).sin().abs() + 0.05;
            let felt = 1.0 / (1.0 + (partial.at_hz / felt_hz).powi(2));
            let own = factor(1.5 * random.bell());
            // Up or down at first: partials that all rose together would make a spike of the blow.
            let turn = side * 0.25 * random.signed() + PI * random.pick(&[0.0, 1.0]);
            let sided = factor(side * 1.0 * random.signed());
            (loudness * lean * place * felt * own * sided, turn)
        })
        .collect();
    let mut bank = Bank::new(partials, canvas.rate_hz);
    for (idx, (amplitude, phase)) in blows.into_iter().enumerate() {
        bank.strike(idx, amplitude, phase);
    }
    let from = canvas.index(note.start_s);
    let off = canvas.index(note.start_s + note.length_s);
    let end = canvas.index(note.start_s + note.length_s + 1.5 * DAMPED_S);
    bank.run(&mut canvas.samples[from..off]);
    bank.shorten(DAMPED_S);
    bank.run(&mut canvas.samples[off..end]);
}
