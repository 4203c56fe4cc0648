//! Plucked strings: electric bass, acoustic and electric guitar.
//!
//! Takes notes, gives a string each: a delay line one period long that feeds itself through a soft low-pass (Karplus and Strong, "Digital
//! synthesis of plucked-string and drum timbres", Computer Music Journal 7(2), 1983; tuning by Jaffe and Smith, same issue).

use crate::demo::random::Random;
use crate::demo::source::canvas::{Canvas, frequency_hz, keep, strength, whole};
use crate::demo::source::filter::Filter;
use crate::demo::source::{Instrument, Note};

/// How a string sounds.
#[derive(Clone, Copy, Debug)]
struct Make {
    /// Where it is plucked, as a share of its length.
    pluck: f64,
    /// Softness of the finger or plectrum: corner of the low-pass on the pluck, in Hz, at velocity 0.8.
    corner_hz: f64,
    /// Share of noise in the pluck.
    scratch: f64,
    /// Loss of highs each period: share of the two neighbours in the mean that the loop takes, 0 to 0.25.
    dullness: f64,
    /// How far the neighbours stand away, in samples: the further, the lower the frequencies that are lost.
    spread: usize,
    /// Time for the fundamental to fall by 60 dB, in seconds, at 110 Hz.
    t60_s: f64,
    /// The same once the note has ended.
    damped_s: f64,
}

const BASS: Make = Make {
    pluck: 0.17,
    corner_hz: 1400.0,
    scratch: 0.06,
    dullness: 0.2,
    spread: 4,
    t60_s: 5.0,
    damped_s: 0.12,
};
const ACOUSTIC: Make = Make {
    pluck: 0.15,
    corner_hz: 8000.0,
    scratch: 0.25,
    dullness: 0.08,
    spread: 1,
    t60_s: 3.5,
    damped_s: 0.15,
};
const ELECTRIC: Make = Make {
    pluck: 0.12,
    corner_hz: 4000.0,
    scratch: 0.15,
    dullness: 0.1,
    spread: 1,
    t60_s: 5.0,
    damped_s: 0.10,
};

/// Ends are followed for this many times the time to fall by 60 dB.
const N_FALLS: f64 = 1.3;

/// Renders a plucked instrument.
pub(super) fn render(
    instrument: Instrument,
    mut canvas: Canvas,
    notes: &[Note],
    seed: u64,
) -> Vec<f32> {
    let make = match instrument {
        Instrument::Bass => BASS,
        Instrument::AcousticGuitar => ACOUSTIC,
        _ => ELECTRIC,
    };
    for (idx, note) in (0..).zip(notes) {
        pluck(&mut canvas, &make, note, Random::branch(seed, idx));
    }
    let rate_hz = canvas.rate_hz;
    match instrument {
        Instrument::Bass => canvas.finish(
            -11.4,
            &mut [Filter::high_pass(rate_hz, 28.0, 0.7), Filter::low_pass(rate_hz, 3500.0, 0.7)],
        ),
        Instrument::AcousticGuitar => canvas.finish(
            -16.6,
            &mut [
                Filter::high_pass(rate_hz, 125.0, 0.8),
                Filter::peak(rate_hz, 180.0, 1.2, 3.0),
                Filter::peak(rate_hz, 3500.0, 0.8, 4.0),
            ],
        ),
        Instrument::DrivenGuitar => amplify(canvas, 24.0, -21.5),
        _ => amplify(canvas, 2.0, -16.7),
    }
}

/// Drive and loudspeaker of a guitar amplifier: a soft bend, then a cone that gives up above 5 kHz.
fn amplify(mut canvas: Canvas, drive: f64, gain_db: f64) -> Vec<f32> {
    let rate_hz = canvas.rate_hz;
    Filter::high_pass(rate_hz, 110.0, 0.7).run(&mut canvas.samples);
    for sample in &mut canvas.samples {
        *sample = bend(drive * *sample);
    }
    canvas.finish(
        gain_db,
        &mut [
            Filter::high_pass(rate_hz, 80.0, 0.7),
            Filter::peak(rate_hz, 2600.0, 1.0, 8.0),
            Filter::low_pass(rate_hz, 5200.0, 0.8),
            Filter::low_pass(rate_hz, 5200.0, 0.7),
        ],
    )
}

/// A curve that follows the hyperbolic tangent (continued fraction, cut after its third step) and never passes 1.
fn bend(value: f64) -> f64 {
    let value = value.clamp(-3.0, 3.0);
    value * (27.0 + value * value) / (27.0 + 9.0 * value * value)
}

fn pluck(canvas: &mut Canvas, make: &Make, note: &Note, mut random: Random) {
    let rate_hz = canvas.rate_hz;
    let at_hz = frequency_hz(note.pitch).clamp(20.0, rate_hz / 100.0);
    let from = canvas.index(note.start_s);
    let off = canvas.index(note.start_s + note.length_s) - from;
    let end = canvas.index(note.start_s + note.length_s + N_FALLS * make.damped_s) - from;
    // The four points of the interpolation reach from one sample before to two after the exact period.
    let period = rate_hz / at_hz;
    let nearest = whole(period - 0.5);
    let weights = between_points(period - nearest as f64);
    let line = displace(make, note, nearest, rate_hz, &mut random);
    let margin = make.spread + 2;
    let lead = nearest + margin;
    let mut string = vec![0.0; lead + end];
    // The displaced string is the last period before the first sample, and it sounds while it passes the pickup.
    for (place, value) in string[margin..lead].iter_mut().zip(&line) {
        *place = *value;
    }
    // Short strings ring shorter.
    let t60_s = make.t60_s * (110.0 / at_hz).sqrt();
    let loss = keep(t60_s, at_hz);
    let block = nearest - margin;
    let mut soft = vec![0.0; block + 3];
    for start in (0..end).step_by(block) {
        let length = block.min(end - start);
        let (past, new) = string.split_at_mut(lead + start);
        let past = &past[start..];
        // `past[margin]` is exactly one whole period before `new[0]`.
        for (idx, value) in soft[..length + 3].iter_mut().enumerate() {
            let middle = idx + margin - 2;
            *value = loss
                * ((1.0 - 2.0 * make.dullness) * past[middle]
                    + make.dullness * (past[middle - make.spread] + past[middle + make.spread]));
        }
        for (idx, value) in new[..length].iter_mut().enumerate() {
            *value = weights[0] * soft[idx]
                + weights[1] * soft[idx + 1]
                + weights[2] * soft[idx + 2]
                + weights[3] * soft[idx + 3];
        }
    }
    // The hand that ends the note works on the sound: in the loop it would leave a step each period.
    let fall = keep(make.damped_s, rate_hz);
    let mut level = 1.0;
    let samples = &mut canvas.samples[from..from + end];
    for (idx, (sample, value)) in samples.iter_mut().zip(&string[margin..]).enumerate() {
        *sample += level * value;
        if idx >= off {
            level *= fall;
        }
    }
}

/// Weights of the samples two and one before, at and one after a whole period, so that they stand for the value `fraction` before it
/// (Lagrange's polynomial of the third order).
fn between_points(fraction: f64) -> [f64; 4] {
    let (minus, zero, one, two) = (fraction + 1.0, fraction, fraction - 1.0, fraction - 2.0);
    [
        minus * zero * one / 6.0,
        -minus * zero * two / 2.0,
        minus * one * two / 2.0,
        -zero * one * two / 6.0,
    ]
}

/// The string's slope at the moment of release, with a little noise, softened by the finger and free of a constant part.
fn displace(
    make: &Make,
    note: &Note,
    length: usize,
    rate_hz: f64,
    random: &mut Random,
) -> Vec<f64> {
    let loudness = strength(note.velocity);
    let place = make.pluck * random.between(0.8, 1.25);
    let bent = whole(place * length as f64).clamp(1, length - 1);
    let fall = -(bent as f64) / (length - bent) as f64;
    let mut line: Vec<f64> = (0..length)
        .map(|idx| if idx < bent { 1.0 } else { fall } + make.scratch * random.signed())
        .collect();
    // A harder pluck is a brighter one. Twice around, so that the filter has settled.
    let mut soft = Filter::low_pass(rate_hz, make.corner_hz * loudness.powf(0.8), 0.6);
    let mut once = line.clone();
    soft.run(&mut once);
    soft.run(&mut line);
    let mean = line.iter().sum::<f64>() / length as f64;
    // The same force bends a long and a short string alike.
    line.iter_mut().for_each(|value| *value = loudness * (*value - mean));
    line
}
