//! What is neither played nor sung: a clap, applause, the metronome.
//!
//! Takes notes, gives noise bursts and clicks. The metronome's clicks are equal to the last bit, so that a grid can be told from a player.

use crate::demo::random::Random;
use crate::demo::source::canvas::{Canvas, factor, frequency_hz, keep, strength, whole};
use crate::demo::source::filter::Filter;
use crate::demo::source::strike::{Body, Hit, Mode, Noise, play};
use crate::demo::source::{Instrument, Note};

/// Claps a second in the applause of some 150 people: each claps four times a second.
const CLAPS_HZ: f64 = 600.0;

/// Length of a click, in seconds.
const CLICK_S: f64 = 0.03;

/// Renders a noise of the hall.
pub(super) fn render(
    instrument: Instrument,
    mut canvas: Canvas,
    notes: &[Note],
    seed: u64,
) -> Vec<f32> {
    match instrument {
        Instrument::Clap => {
            let hits = Hit::from_notes(&canvas, notes, |_| 1.0);
            play(&mut canvas, &boards(), &hits, seed);
            let rate_hz = canvas.rate_hz;
            canvas.finish(-10.0, &mut [Filter::high_pass(rate_hz, 45.0, 0.7)])
        }
        Instrument::Applause => {
            for (idx, note) in (0..).zip(notes) {
                applaud(&mut canvas, note, Random::branch(seed, idx));
            }
            let rate_hz = canvas.rate_hz;
            canvas.finish(
                -19.3,
                &mut [
                    Filter::high_pass(rate_hz, 350.0, 0.7),
                    Filter::peak(rate_hz, 1200.0, 1.0, 6.0),
                    Filter::low_pass(rate_hz, 6000.0, 0.7),
                ],
            )
        }
        _ => {
            for note in notes {
                tick(&mut canvas, note);
            }
            canvas.finish(0.0, &mut [])
        }
    }
}

/// Two boards clapped together: short, and with enough low end to make a hall ring from 63 Hz up.
fn boards() -> Body {
    Body {
        modes: vec![Mode::new(70.0, 0.06, 0.0), Mode::new(150.0, 0.05, 0.0)],
        noises: vec![
            Noise::new(150.0, 600.0, 0.05, 12.0),
            Noise::new(500.0, 2500.0, 0.04, 16.0),
            Noise::new(2500.0, 12000.0, 0.03, 12.0),
        ],
        glide: 0.0,
        left_by_hit: 0.0,
        stream: 0,
    }
}

/// Hands by the hundred: bursts of a few milliseconds at random moments, swelling at first and thinning out at the end.
fn applaud(canvas: &mut Canvas, note: &Note, mut random: Random) {
    let (from, end) = (canvas.index(note.start_s), canvas.index(note.start_s + note.length_s));
    let length = (end - from) as f64;
    let fall = keep(0.03, canvas.rate_hz);
    let chance = CLAPS_HZ / canvas.rate_hz;
    let mut level = 0.0;
    for (idx, sample) in canvas.samples[from..end].iter_mut().enumerate() {
        let place = idx as f64 / length;
        let people = (place * 10.0).min(1.0) * ((1.0 - place) * 3.0).min(1.0);
        if random.unit() < chance * people {
            level += strength(note.velocity) * factor(2.5 * random.bell());
        }
        level *= fall;
        *sample += level * random.signed();
    }
}

fn tick(canvas: &mut Canvas, note: &Note) {
    let rate_hz = canvas.rate_hz;
    let from = canvas.index(note.start_s);
    let end = (from + whole(CLICK_S * rate_hz)).min(canvas.samples.len());
    let step = std::f64::consts::TAU * frequency_hz(note.pitch) / rate_hz;
    // At velocity 1 the click just reaches full scale.
    let peak = strength(note.velocity) / strength(1.0);
    for (idx, sample) in canvas.samples[from..end].iter_mut().enumerate() {
        let place = idx as f64 / (CLICK_S * rate_hz);
        // Ends at zero, with zero slope.
        *sample += peak * (1.0 - place).powi(2) * (step * idx as f64).sin();
    }
}
