//! Held notes: fiddle, trumpet and synthesiser.
//!
//! Takes notes, gives sawtooth waves whose brightness follows the loudness, with the vibrato, breath and bow noise of the player. Notes
//! begin and end softly; never a click.

use crate::demo::random::Random;
use crate::demo::source::canvas::{Canvas, factor, frequency_hz, strength, whole};
use crate::demo::source::filter::Filter;
use crate::demo::source::saw::{Saw, Waver};
use crate::demo::source::{Instrument, Note};

/// How a player holds a note.
#[derive(Clone, Copy, Debug)]
struct Hold {
    /// Time constant of the beginning, in seconds.
    rise_s: f64,
    /// Time constant of the end, in seconds.
    fall_s: f64,
    /// Depth of the vibrato, in cents either way.
    vibrato_cents: f64,
    /// Its speed, in Hz; 0 for none.
    vibrato_hz: f64,
    /// How far below the note the pitch begins, in cents.
    scoop_cents: f64,
    /// Corner of the low-pass at velocity 0.8, as a multiple of the note's frequency, and its least, in Hz.
    bright: (f64, f64),
    /// Level of the noise of bow or breath under the tone, in dB.
    noise_db: f64,
    /// Level of the beginning over the rest, in dB.
    accent_db: f64,
}

const FIDDLE: Hold = Hold {
    rise_s: 0.03,
    fall_s: 0.05,
    vibrato_cents: 16.0,
    vibrato_hz: 5.6,
    scoop_cents: 12.0,
    bright: (0.0, 4500.0),
    noise_db: -24.0,
    accent_db: 2.0,
};

const TRUMPET: Hold = Hold {
    rise_s: 0.015,
    fall_s: 0.04,
    vibrato_cents: 7.0,
    vibrato_hz: 5.0,
    scoop_cents: 25.0,
    bright: (4.0, 3200.0),
    noise_db: -36.0,
    accent_db: 2.5,
};

const PAD: Hold = Hold {
    rise_s: 0.15,
    fall_s: 0.15,
    vibrato_cents: 0.0,
    vibrato_hz: 0.0,
    scoop_cents: 0.0,
    bright: (2.0, 0.0),
    noise_db: -200.0,
    accent_db: 0.0,
};

/// Time between two settings of pitch and brightness, in seconds.
const STEP_S: f64 = 1e-3;

/// Ends are followed for this many time constants: 52 dB down.
const N_FALLS: f64 = 6.0;

/// Renders a line of held notes.
pub(super) fn render(
    instrument: Instrument,
    mut canvas: Canvas,
    notes: &[Note],
    seed: u64,
) -> Vec<f32> {
    let hold = match instrument {
        Instrument::Fiddle => FIDDLE,
        Instrument::Trumpet => TRUMPET,
        _ => PAD,
    };
    for (idx, note) in (0..).zip(notes) {
        play(&mut canvas, &hold, note, Random::branch(seed, idx));
    }
    let rate_hz = canvas.rate_hz;
    match instrument {
        Instrument::Fiddle => canvas.finish(
            -14.3,
            &mut [
                Filter::high_pass(rate_hz, 150.0, 0.7),
                // The air in the body, its two main plates and the hill of the bridge.
                Filter::peak(rate_hz, 280.0, 3.0, 4.0),
                Filter::peak(rate_hz, 460.0, 4.0, 1.5),
                Filter::peak(rate_hz, 560.0, 4.0, 1.0),
                Filter::peak(rate_hz, 700.0, 0.8, -2.0),
                Filter::peak(rate_hz, 2500.0, 1.2, 6.0),
                Filter::low_pass(rate_hz, 6500.0, 0.7),
            ],
        ),
        Instrument::Trumpet => canvas.finish(
            -14.0,
            &mut [
                Filter::high_pass(rate_hz, 150.0, 0.7),
                Filter::peak(rate_hz, 600.0, 0.8, -2.0),
                Filter::peak(rate_hz, 1500.0, 0.8, 6.0),
                Filter::low_pass(rate_hz, 7000.0, 0.7),
            ],
        ),
        _ => canvas.finish(-16.6, &mut [Filter::high_pass(rate_hz, 40.0, 0.7)]),
    }
}

fn play(canvas: &mut Canvas, hold: &Hold, note: &Note, mut random: Random) {
    let rate_hz = canvas.rate_hz;
    let loudness = strength(note.velocity);
    let at_hz = frequency_hz(note.pitch);
    let from = canvas.index(note.start_s);
    let off = canvas.index(note.start_s + note.length_s);
    let end = canvas.index(note.start_s + note.length_s + N_FALLS * hold.fall_s);
    let chunk = whole(STEP_S * rate_hz).max(1);
    let mut saw = Saw::new(0.0);
    let mut waver = Waver::new(Random::new(random.next_u64()), hold.vibrato_hz);
    let mut tone = vec![0.0; chunk];
    let mut dark = [0.0; 2];
    let noise = factor(hold.noise_db);
    let (rise, fall) = (
        1.0 - (-1.0 / (hold.rise_s * rate_hz)).exp(),
        1.0 - (-1.0 / (hold.fall_s * rate_hz)).exp(),
    );
    let mut level = 0.0;
    let swell = 2.0 * random.bell();
    for start in (from..end).step_by(chunk) {
        let played_s = (start - from) as f64 / rate_hz;
        // A straight beginning, then vibrato.
        let depth = hold.vibrato_cents * (played_s / 0.3).min(1.0);
        let scoop = -hold.scoop_cents * (-played_s / 0.03).exp();
        let pitch = waver.step(STEP_S, depth, 2.5) * (scoop / 1200.0).exp2();
        let step = at_hz * pitch / rate_hz;
        let arch = (std::f64::consts::PI * played_s / note.length_s.max(0.05)).sin().max(0.0);
        let accent = hold.accent_db * (-played_s / 0.06).exp() + swell * arch;
        let goal = if start < off { loudness * factor(accent) } else { 0.0 };
        let follow = if start < off { rise } else { fall };
        let corner_hz = hold.bright.1.max(hold.bright.0 * at_hz) * (level + 0.02_f64).powf(0.7);
        let open = 1.0 - (-std::f64::consts::TAU * corner_hz.max(0.7 * at_hz) / rate_hz).exp();
        let samples = &mut canvas.samples[start..end.min(start + chunk)];
        let tone = &mut tone[..samples.len()];
        tone.fill(0.0);
        saw.add(step, tone);
        for (sample, value) in samples.iter_mut().zip(tone) {
            level += follow * (goal - level);
            let rough = noise * random.signed();
            dark[0] += open * (*value + rough - dark[0]);
            dark[1] += open * (dark[0] - dark[1]);
            *sample += level * dark[1];
        }
    }
}
