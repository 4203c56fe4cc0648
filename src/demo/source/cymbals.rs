//! Hi-hat, crash and ride.
//!
//! Takes hits, gives a dense crowd of inharmonic partials over bands of noise; the high bands flare up at once and die first, the
//! low ones build up over some hundredths of a second (Fletcher and Rossing, "The Physics of Musical Instruments", from memory).

use crate::demo::random::Random;
use crate::demo::source::canvas::Canvas;
use crate::demo::source::filter::Filter;
use crate::demo::source::strike::{Body, Hit, Mode, Noise, play};
use crate::demo::source::{Instrument, Note};

/// From this length on a hi-hat is played open.
const OPEN_FROM_S: f64 = 0.25;

/// Renders a cymbal.
pub(super) fn render(
    instrument: Instrument,
    mut canvas: Canvas,
    notes: &[Note],
    size: f64,
    seed: u64,
) -> Vec<f32> {
    let body = match instrument {
        Instrument::HiHat => hi_hat(),
        Instrument::Crash => crash(),
        _ => ride(),
    };
    let ring = |note: &Note| match instrument {
        Instrument::HiHat if note.length_s >= OPEN_FROM_S => 6.0,
        _ => 1.0,
    };
    let hits = Hit::from_notes(&canvas, notes, ring);
    play(&mut canvas, &body.sized(size), &hits, seed);
    let rate_hz = canvas.rate_hz;
    let gain_db = match instrument {
        Instrument::HiHat => 5.2,
        Instrument::Crash => 4.4,
        _ => 7.0,
    };
    let low_end = if instrument == Instrument::HiHat { 500.0 } else { 100.0 };
    canvas.finish(gain_db, &mut [Filter::high_pass(rate_hz, low_end, 0.7)])
}

fn hi_hat() -> Body {
    Body {
        modes: crowd(24, 700.0, 9000.0, 0.16, -30.0, 1),
        noises: vec![
            Noise::new(700.0, 2000.0, 0.06, -14.0),
            Noise::new(1800.0, 5000.0, 0.26, -12.0).rising(1e-3),
            Noise::new(5000.0, 9000.0, 0.32, -8.0).rising(1e-3),
            Noise::new(8000.0, 17000.0, 0.32, -9.0).rising(1e-3),
        ],
        glide: 0.0,
        // The next stroke meets cymbals pressed together again.
        left_by_hit: 0.1,
        stream: 0,
    }
}

fn crash() -> Body {
    Body {
        modes: crowd(40, 170.0, 10000.0, 2.8, -33.5, 2),
        noises: vec![
            Noise::new(150.0, 400.0, 1.6, -4.0).rising(0.02),
            Noise::new(1000.0, 3500.0, 2.4, -25.0).rising(0.01),
            Noise::new(3500.0, 9000.0, 1.8, -13.0).rising(3e-3),
            Noise::new(8000.0, 16000.0, 1.4, -12.5),
        ],
        glide: 0.0,
        left_by_hit: 0.8,
        stream: 0,
    }
}

fn ride() -> Body {
    let mut modes = crowd(32, 330.0, 10000.0, 2.0, -37.5, 3);
    // The ping of the stick.
    modes.extend([
        Mode::new(2840.0, 0.35, -22.0),
        Mode::new(4130.0, 0.30, -23.0),
        Mode::new(5320.0, 0.22, -24.0),
    ]);
    Body {
        modes,
        noises: vec![
            Noise::new(130.0, 350.0, 0.8, -7.0).rising(0.01),
            Noise::new(1500.0, 5000.0, 0.10, -18.0),
            Noise::new(5000.0, 15000.0, 0.12, -16.0),
            Noise::new(3000.0, 12000.0, 1.6, -30.0).rising(0.01),
        ],
        glide: 0.0,
        left_by_hit: 0.7,
        stream: 0,
    }
}

/// `count` partials scattered evenly over the octaves: one of each equal step, at a random place in it. The metal is the same
/// for every seed; only the hits differ.
fn crowd(count: u32, from_hz: f64, to_hz: f64, t60_s: f64, level_db: f64, metal: u64) -> Vec<Mode> {
    let mut random = Random::new(metal);
    (0..count)
        .map(|idx| {
            let place = (f64::from(idx) + random.unit()) / f64::from(count);
            let at_hz = from_hz * (to_hz / from_hz).powf(place);
            // High partials lose their energy faster.
            let t60_s = t60_s * (1000.0 / at_hz).powf(0.35) * random.between(0.7, 1.3);
            let tilt_db = 2.2 * (at_hz / 2000.0).log2() + 3.0 * random.bell();
            let mode = Mode::new(at_hz, t60_s, level_db + tilt_db);
            // Up or down at first: partials that all rose together would make a spike of the stroke.
            if random.unit() < 0.5 { mode.inverted() } else { mode }
        })
        .collect()
}
