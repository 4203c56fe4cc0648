//! Bass drum, snare, toms and cajon.
//!
//! Takes hits, gives what a close microphone would hear without its neighbours. Snare and toms ring in the modes of the ideal round
//! membrane (1 : 1.59 : 2.14 : 2.30 : 2.65 : 2.92, Fletcher and Rossing, "The Physics of Musical Instruments", from memory);
//! the rest is set so that levels and bands fit what close microphones usually give.

use crate::demo::source::canvas::Canvas;
use crate::demo::source::filter::Filter;
use crate::demo::source::strike::{Body, Hit, Mode, Noise, play};
use crate::demo::source::{Instrument, Note};

/// Renders a drum.
pub(super) fn render(
    instrument: Instrument,
    mut canvas: Canvas,
    notes: &[Note],
    size: f64,
    seed: u64,
) -> Vec<f32> {
    if instrument == Instrument::Cajon {
        return cajon(canvas, notes, size, seed);
    }
    let (body, low_end_hz, gain_db) = match instrument {
        Instrument::SnareTop => (snare_top(), 110.0, -8.3),
        Instrument::SnareBottom => (snare_bottom(), 120.0, -10.8),
        Instrument::RackTom => (tom(98.0), 30.0, -10.0),
        Instrument::FloorTom => (tom(76.0), 30.0, -9.3),
        _ => (kick(), 25.0, -8.9),
    };
    let hits = Hit::from_notes(&canvas, notes, |_| 1.0);
    play(&mut canvas, &body.sized(size), &hits, seed);
    let rate_hz = canvas.rate_hz;
    canvas.finish(gain_db, &mut [Filter::high_pass(rate_hz, low_end_hz / size, 0.7)])
}

fn kick() -> Body {
    Body {
        modes: vec![
            Mode::new(49.0, 0.42, 0.0),
            Mode::new(71.0, 0.36, -4.0),
            Mode::new(118.0, 0.20, -5.0),
            Mode::new(172.0, 0.14, -9.0),
            Mode::new(290.0, 0.08, -16.0),
        ],
        noises: vec![
            Noise::new(1500.0, 5000.0, 0.04, 4.0),
            Noise::new(300.0, 1500.0, 0.06, 0.0),
            Noise::new(4500.0, 12000.0, 0.03, -4.0),
        ],
        glide: 0.5,
        left_by_hit: 0.3,
        stream: 0,
    }
}

fn snare_top() -> Body {
    Body {
        modes: snare_modes(),
        noises: vec![
            Noise::new(400.0, 1800.0, 0.10, 8.0),
            Noise::new(1500.0, 5000.0, 0.16, 5.0),
            Noise::new(4000.0, 9000.0, 0.20, 2.0),
            Noise::new(8000.0, 16000.0, 0.16, -6.0),
        ],
        glide: 0.08,
        left_by_hit: 0.5,
        stream: 0,
    }
}

/// Two modes of the shell and the air in it, then the membrane's.
fn snare_modes() -> Vec<Mode> {
    vec![
        Mode::new(182.0, 0.20, 0.0),
        Mode::new(289.0, 0.14, -5.0),
        Mode::new(389.0, 0.11, -9.0),
        Mode::new(418.0, 0.10, -9.0),
        Mode::new(482.0, 0.09, -11.0),
        Mode::new(531.0, 0.08, -12.0),
    ]
}

/// The rattling head moves away from its microphone when the beaten one moves away from the stick: inverted, with the wires'
/// rattle coming a moment later.
fn snare_bottom() -> Body {
    Body {
        modes: snare_modes().into_iter().map(Mode::inverted).collect(),
        noises: vec![
            Noise::new(400.0, 1800.0, 0.14, 12.0).rising(1e-3),
            Noise::new(1500.0, 5000.0, 0.24, 8.0).rising(1e-3),
            Noise::new(4500.0, 9000.0, 0.26, 8.0).rising(1e-3),
            Noise::new(8000.0, 16000.0, 0.22, 0.5).rising(1e-3),
        ],
        glide: 0.08,
        left_by_hit: 0.5,
        stream: 1,
    }
}

fn tom(at_hz: f64) -> Body {
    Body {
        modes: vec![
            Mode::new(0.55 * at_hz, 0.5, -5.0),
            Mode::new(at_hz, 0.95, -2.2),
            Mode::new(1.59 * at_hz, 0.45, -7.0),
            Mode::new(2.14 * at_hz, 0.3, -10.0),
            Mode::new(2.30 * at_hz, 0.4, -11.0),
            Mode::new(2.92 * at_hz, 0.4, -10.0),
            Mode::new(3.65 * at_hz, 0.4, -11.0),
            Mode::new(4.83 * at_hz, 0.35, -14.0),
        ],
        noises: vec![
            Noise::new(250.0, 1900.0, 0.12, 4.0),
            Noise::new(1200.0, 4000.0, 0.06, 3.0),
            Noise::new(3500.0, 7000.0, 0.05, -1.0),
        ],
        glide: 0.25,
        left_by_hit: 0.6,
        stream: 0,
    }
}

/// Bass strokes in the middle of the board, slaps at its upper edge: the pitch tells them apart.
fn cajon(mut canvas: Canvas, notes: &[Note], size: f64, seed: u64) -> Vec<f32> {
    let bass = Body {
        modes: vec![
            Mode::new(88.0, 0.32, -4.0),
            Mode::new(196.0, 0.2, -6.0),
            Mode::new(312.0, 0.10, -12.0),
        ],
        noises: vec![Noise::new(300.0, 1500.0, 0.06, -4.0)],
        glide: 0.15,
        left_by_hit: 0.4,
        stream: 0,
    };
    let slap = Body {
        modes: vec![
            Mode::new(205.0, 0.24, -4.0),
            Mode::new(318.0, 0.20, -3.0),
            Mode::new(476.0, 0.16, -5.0),
            Mode::new(655.0, 0.1, -8.0),
        ],
        noises: vec![Noise::new(600.0, 2500.0, 0.15, 5.0), Noise::new(2000.0, 8000.0, 0.10, -3.0)],
        glide: 0.0,
        left_by_hit: 0.4,
        stream: 1,
    };
    let (high, low): (Vec<Note>, Vec<Note>) = notes.iter().partition(|note| note.pitch >= 60.0);
    for (body, part) in [(bass, low), (slap, high)] {
        let hits = Hit::from_notes(&canvas, &part, |_| 1.0);
        let stream = body.stream;
        play(&mut canvas, &body.sized(size), &hits, seed ^ stream);
    }
    let rate_hz = canvas.rate_hz;
    canvas.finish(-5.2, &mut [Filter::high_pass(rate_hz, 35.0 / size, 0.7)])
}
