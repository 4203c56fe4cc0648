//! Held notes: bowed strings, trumpet, reeds, organ and synthesiser.
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
    /// Sawtooth waves that make the tone.
    voices: &'static [Voice],
    /// How far below the note the pitch begins, in cents.
    scoop_cents: f64,
    /// Corner of the low-pass at velocity 0.8, as a multiple of the note's frequency, and its least, in Hz.
    bright: (f64, f64),
    /// Level of the noise of bow or breath under the tone, in dB.
    noise_db: f64,
    /// Level of the beginning over the rest, in dB.
    accent_db: f64,
}

/// One of the sawtooth waves of a tone.
#[derive(Clone, Copy, Debug)]
struct Voice {
    /// How far it is from the note, in cents.
    cents: f64,
    /// Where in its period it begins, as a share.
    phase: f64,
    /// Its amplitude; negative turns it over.
    amplitude: f64,
}

const fn voice(cents: f64, phase: f64, amplitude: f64) -> Voice {
    Voice { cents, phase, amplitude }
}

const FIDDLE: Hold = Hold {
    voices: &[voice(0.0, 0.0, 1.0)],
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
    voices: &[voice(0.0, 0.0, 1.0)],
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
    voices: &[voice(0.0, 0.0, 1.0)],
    rise_s: 0.15,
    fall_s: 0.15,
    vibrato_cents: 0.0,
    vibrato_hz: 0.0,
    scoop_cents: 0.0,
    bright: (2.0, 0.0),
    noise_db: -200.0,
    accent_db: 0.0,
};

const CELLO: Hold = Hold {
    rise_s: 0.06,
    fall_s: 0.08,
    vibrato_cents: 14.0,
    vibrato_hz: 5.2,
    bright: (0.0, 4500.0),
    noise_db: -26.0,
    ..FIDDLE
};

/// A tube closed at one end: a sawtooth minus itself half a period later leaves the odd partials.
const CLARINET: Hold = Hold {
    voices: &[voice(0.0, 0.0, 0.7), voice(0.0, 0.5, -0.7)],
    rise_s: 0.025,
    fall_s: 0.04,
    vibrato_cents: 3.0,
    vibrato_hz: 4.5,
    scoop_cents: 10.0,
    bright: (3.0, 4200.0),
    noise_db: -34.0,
    accent_db: 1.0,
};

const SAXOPHONE: Hold = Hold {
    voices: &[voice(0.0, 0.0, 1.0)],
    rise_s: 0.02,
    fall_s: 0.05,
    vibrato_cents: 18.0,
    vibrato_hz: 5.3,
    scoop_cents: 45.0,
    bright: (3.0, 4600.0),
    noise_db: -26.0,
    accent_db: 2.0,
};

/// Two reeds a dozen cents apart beat against each other, a third sounds an octave below.
const ACCORDION: Hold = Hold {
    voices: &[voice(-6.0, 0.0, 0.55), voice(6.0, 0.3, 0.55), voice(-1200.0, 0.6, 0.35)],
    rise_s: 0.03,
    fall_s: 0.04,
    vibrato_cents: 0.0,
    vibrato_hz: 0.0,
    scoop_cents: 0.0,
    bright: (0.0, 3400.0),
    noise_db: -40.0,
    accent_db: 1.0,
};

/// Stops at the octave below, the note, the octave and the twelfth; the right output has them in other phases.
const ORGAN_LEFT: Hold = Hold {
    voices: &[
        voice(-1200.0, 0.0, 0.4),
        voice(0.0, 0.2, 0.6),
        voice(1200.0, 0.5, 0.3),
        voice(1902.0, 0.1, 0.25),
    ],
    rise_s: 0.008,
    fall_s: 0.02,
    bright: (2.0, 1500.0),
    noise_db: -60.0,
    accent_db: 2.0,
    ..PAD
};

const ORGAN_RIGHT: Hold = Hold {
    voices: &[
        voice(-1200.0, 0.1, 0.45),
        voice(0.0, 0.2, 0.5),
        voice(1200.0, 0.7, 0.35),
        voice(1902.0, 0.4, 0.2),
    ],
    ..ORGAN_LEFT
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
        Instrument::Cello => CELLO,
        Instrument::Clarinet => CLARINET,
        Instrument::Saxophone => SAXOPHONE,
        Instrument::Accordion => ACCORDION,
        Instrument::OrganLeft => ORGAN_LEFT,
        Instrument::OrganRight => ORGAN_RIGHT,
        _ => PAD,
    };
    for (idx, note) in (0..).zip(notes) {
        play(&mut canvas, &hold, note, Random::branch(seed, idx));
    }
    let (gain_db, mut body) = body(instrument, canvas.rate_hz);
    canvas.finish(gain_db, &mut body)
}

/// Level and body of an instrument.
fn body(instrument: Instrument, rate_hz: f64) -> (f64, Vec<Filter>) {
    let high_pass = |at_hz| Filter::high_pass(rate_hz, at_hz, 0.7);
    let low_pass = |at_hz| Filter::low_pass(rate_hz, at_hz, 0.7);
    let peak = |at_hz, quality, gain_db| Filter::peak(rate_hz, at_hz, quality, gain_db);
    match instrument {
        Instrument::Fiddle => (
            -14.3,
            vec![
                high_pass(150.0),
                // The air in the body, its two main plates and the hill of the bridge.
                peak(280.0, 3.0, 4.0),
                peak(460.0, 4.0, 1.5),
                peak(560.0, 4.0, 1.0),
                peak(700.0, 0.8, -2.0),
                peak(2500.0, 1.2, 6.0),
                low_pass(6500.0),
            ],
        ),
        Instrument::Trumpet => (
            -14.0,
            vec![
                high_pass(150.0),
                peak(600.0, 0.8, -2.0),
                peak(1500.0, 0.8, 6.0),
                low_pass(7000.0),
            ],
        ),
        Instrument::Cello => (
            -12.8,
            vec![
                high_pass(95.0),
                // The air in the body, its wood, and the hill of the bridge.
                peak(105.0, 3.0, 2.0),
                peak(170.0, 0.8, -5.0),
                peak(450.0, 1.0, 3.0),
                peak(2000.0, 0.8, 8.0),
            ],
        ),
        Instrument::Clarinet => (
            -15.5,
            vec![
                high_pass(130.0),
                peak(700.0, 0.8, -4.5),
                peak(1800.0, 0.6, 7.5),
                low_pass(8000.0),
            ],
        ),
        Instrument::Saxophone => (
            -12.8,
            vec![
                high_pass(150.0),
                peak(280.0, 0.8, -3.5),
                peak(1400.0, 0.8, 4.0),
                peak(2800.0, 1.0, 5.0),
            ],
        ),
        Instrument::Accordion => {
            (-19.0, vec![high_pass(100.0), peak(900.0, 0.8, 3.0), peak(2400.0, 1.0, 4.0)])
        }
        Instrument::OrganLeft | Instrument::OrganRight => (-16.0, vec![high_pass(50.0)]),
        _ => (-16.6, vec![high_pass(40.0)]),
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
    let mut saws: Vec<Saw> = hold.voices.iter().map(|voice| Saw::new(voice.phase)).collect();
    let mut waver = Waver::new(Random::new(random.next_u64()), hold.vibrato_hz);
    let (mut tone, mut alone) = (vec![0.0; chunk], vec![0.0; chunk]);
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
        for (saw, voice) in saws.iter_mut().zip(hold.voices) {
            let alone = &mut alone[..tone.len()];
            alone.fill(0.0);
            saw.add(step * (voice.cents / 1200.0).exp2(), alone);
            tone.iter_mut().zip(alone).for_each(|(tone, x)| *tone += voice.amplitude * *x);
        }
        for (sample, value) in samples.iter_mut().zip(tone) {
            level += follow * (goal - level);
            let rough = noise * random.signed();
            dark[0] += open * (*value + rough - dark[0]);
            dark[1] += open * (dark[0] - dark[1]);
            *sample += level * dark[1];
        }
    }
}
