//! Sound that only resembles feedback: held notes of 24 kinds, in rooms, alone or with others.

use std::f64::consts::TAU;

use deskside::demo::source::{Instrument, Note};

use super::howling::{CLIP_S, N, RATE, band, between, fit, in_room, part, pick, played, rms};
use super::planted::Dice;

/// Kinds of sound without feedback.
pub(crate) const KINDS: [&str; 24] = [
    "flute",
    "ocarina",
    "whistle",
    "pan flute",
    "organ",
    "church organ",
    "reed",
    "choir",
    "pad",
    "glass",
    "square lead",
    "harmonics",
    "driven guitar",
    "fiddle",
    "natural flute",
    "voice",
    "speech",
    "swells of a sine",
    "guitar feedback as music",
    "trumpet",
    "saxophone",
    "guitar",
    "keys",
    "notes of a sine",
];

/// A note built of sines: multiples with amplitudes, rise in seconds, vibrato in cents, breath as a share.
struct Tone {
    parts: &'static [(f64, f64)],
    rise_s: [f64; 2],
    vibrato_cents: f64,
    breath: f64,
    /// Time to fall by 60 dB; infinite for a held note.
    t60_s: f64,
    keys: [f64; 2],
}

const FLUTE: Tone = Tone {
    parts: &[(1.0, 1.0), (2.0, 0.35), (3.0, 0.15), (4.0, 0.05)],
    rise_s: [0.05, 0.12],
    vibrato_cents: 15.0,
    breath: 0.02,
    t60_s: f64::INFINITY,
    keys: [60.0, 90.0],
};

fn tone(kind: &str) -> Option<Tone> {
    Some(match kind {
        "flute" => FLUTE,
        "natural flute" => Tone { vibrato_cents: 7.0, breath: 0.04, keys: [62.0, 86.0], ..FLUTE },
        "ocarina" => Tone {
            parts: &[(1.0, 1.0), (2.0, 0.02), (3.0, 0.03)],
            vibrato_cents: 5.0,
            rise_s: [0.03, 0.06],
            ..FLUTE
        },
        "whistle" => Tone {
            parts: &[(1.0, 1.0), (2.0, 0.012)],
            vibrato_cents: 12.0,
            keys: [65.0, 92.0],
            ..FLUTE
        },
        "pan flute" => Tone {
            parts: &[(1.0, 1.0), (2.0, 0.05), (3.0, 0.2)],
            vibrato_cents: 8.0,
            breath: 0.08,
            ..FLUTE
        },
        "church organ" => Tone {
            parts: &[(0.5, 0.4), (1.0, 1.0), (2.0, 0.6), (3.0, 0.2), (4.0, 0.4)],
            vibrato_cents: 0.0,
            breath: 0.005,
            keys: [48.0, 84.0],
            ..FLUTE
        },
        "glass" => Tone {
            parts: &[(1.0, 1.0), (2.32, 0.1), (4.25, 0.03)],
            rise_s: [0.2, 0.7],
            vibrato_cents: 0.0,
            breath: 0.002,
            t60_s: 8.0,
            keys: [55.0, 84.0],
        },
        "square lead" => Tone {
            parts: &[(1.0, 1.0), (3.0, 0.33), (5.0, 0.2), (7.0, 0.14)],
            rise_s: [0.005, 0.02],
            vibrato_cents: 10.0,
            breath: 0.0,
            keys: [55.0, 84.0],
            ..FLUTE
        },
        "harmonics" => Tone {
            parts: &[(1.0, 1.0), (2.0, 0.2), (3.0, 0.05)],
            rise_s: [0.002, 0.004],
            vibrato_cents: 0.0,
            breath: 0.0,
            t60_s: 6.0,
            keys: [57.0, 82.0],
        },
        _ => return None,
    })
}

fn add_tone(
    x: &mut [f64],
    tone: &Tone,
    start_s: f64,
    length_s: f64,
    hz: f64,
    level: f64,
    dice: &mut Dice,
) {
    let rise_s = between(dice, tone.rise_s[0], tone.rise_s[1]);
    let (from, n) = ((start_s * RATE) as usize, (length_s * RATE) as usize);
    let (mut turn, mut wander) = (0.0f64, 0.0f64);
    let speed_hz = between(dice, 4.5, 6.0);
    for (at, x) in x.iter_mut().skip(from).take(n).enumerate() {
        let since_s = at as f64 / RATE;
        wander += 0.002 * (dice.normal() - 0.002 * wander);
        let deep = (since_s / 0.5).min(1.0) * tone.vibrato_cents;
        let cents = deep * (TAU * speed_hz * since_s).sin() + tone.vibrato_cents * 0.3 * wander;
        turn += hz * 2f64.powf(cents / 1200.0) / RATE;
        let falls = (-6.9078 * since_s / tone.t60_s).exp();
        let shape = (since_s / rise_s).min(1.0) * ((length_s - since_s) / 0.05).clamp(0.0, 1.0);
        let sum: f64 = tone
            .parts
            .iter()
            .filter(|part| part.0 * hz < 7800.0)
            .map(|part| part.1 * (TAU * part.0 * turn).sin())
            .sum();
        *x += level * shape * falls * (sum + tone.breath * dice.normal());
    }
}

/// Long notes; calls `add` with start, length, key and strength.
fn long_notes(dice: &mut Dice, keys: [f64; 2], mut add: impl FnMut(&mut Dice, f64, f64, f64, f64)) {
    let n_voices = if dice.even() < 0.6 { 1 } else { 2 };
    let mut at_s = 0.3;
    while at_s < CLIP_S - 1.0 {
        let length_s = between(dice, 0.8, 4.0);
        let key = between(dice, keys[0], keys[1]).floor();
        for voice in 0..n_voices {
            let strength = between(dice, 0.4, 0.9);
            add(dice, at_s, length_s, key + [0.0, 7.0][voice], strength);
        }
        at_s += length_s + between(dice, 0.0, 0.3);
    }
}

fn hz_of(key: f64) -> f64 {
    440.0 * 2f64.powf((key - 69.0) / 12.0)
}

/// Sound without feedback: kind `seed` modulo 24, alone or with others.
pub(crate) fn innocent(seed: u64) -> (Vec<f32>, &'static str) {
    let mut dice = Dice::new(50_000 + seed);
    let kind = KINDS[(seed % 24) as usize];
    let held = |instrument: Instrument, keys: [f64; 2], dice: &mut Dice| {
        let mut notes = Vec::new();
        long_notes(dice, keys, |_, start_s, length_s, pitch, velocity| {
            notes.push(Note { start_s, length_s, pitch, velocity });
        });
        played(instrument, &notes, dice)
    };
    let dry = match kind {
        "organ" => held(Instrument::OrganLeft, [48.0, 84.0], &mut dice),
        "reed" => held(Instrument::Accordion, [48.0, 80.0], &mut dice),
        "choir" => held(Instrument::Choir, [50.0, 72.0], &mut dice),
        "pad" => held(Instrument::SynthPad, [48.0, 76.0], &mut dice),
        "driven guitar" => held(Instrument::DrivenGuitar, [45.0, 76.0], &mut dice),
        "fiddle" => held(Instrument::Fiddle, [58.0, 90.0], &mut dice),
        "trumpet" => held(Instrument::Trumpet, [55.0, 80.0], &mut dice),
        "voice" => part(Instrument::LeadVoice, &mut dice),
        "speech" => part(Instrument::Host, &mut dice),
        "saxophone" => part(Instrument::Saxophone, &mut dice),
        "guitar" => part(Instrument::AcousticGuitar, &mut dice),
        "keys" => part(Instrument::KeysLeft, &mut dice),
        "swells of a sine" | "notes of a sine" => sines(kind.starts_with("swells"), &mut dice),
        "guitar feedback as music" => sung_guitar(&mut dice),
        _ => {
            let tone = tone(kind).unwrap();
            let mut x = vec![0.0; N];
            long_notes(&mut dice, tone.keys, |dice, start_s, length_s, key, strength| {
                add_tone(&mut x, &tone, start_s, length_s, hz_of(key), 0.3 * strength, dice);
            });
            x
        }
    };
    let mut x = in_room(&dry, &mut dice);
    x.iter_mut().for_each(|x| *x += 2.5e-4 * dice.normal());
    if !seed.is_multiple_of(3) {
        let level_db = 20.0 * rms(&x).log10()
            + between(&mut dice, -18.0, if seed % 3 == 2 { 0.0 } else { -10.0 });
        let others = band(&mut dice, level_db);
        x.iter_mut().zip(&others).for_each(|(x, other)| *x += other);
    }
    (fit(&x), kind)
}

fn sines(is_slow: bool, dice: &mut Dice) -> Vec<f64> {
    let mut x = vec![0.0; N];
    let mut at_s = 0.5;
    while at_s < CLIP_S - 1.5 {
        let (length_s, key) = (between(dice, 1.0, 3.0), between(dice, 50.0, 90.0).floor());
        let rise_s = if is_slow { between(dice, 0.2, 1.5) } else { between(dice, 0.005, 0.05) };
        let (power, second) = (between(dice, 1.0, 2.0), [0.0, 0.02][pick(dice, 2)]);
        let hz = hz_of(key) * 2f64.powf(between(dice, -0.3, 0.3) / 12.0);
        for n in 0..(length_s * RATE) as usize {
            let since_s = n as f64 / RATE;
            let shape =
                (since_s / rise_s).min(1.0).powf(power) * ((length_s - since_s) / 0.1).min(1.0);
            let place = (at_s * RATE) as usize + n;
            if place < N {
                x[place] += shape
                    * (0.25 * (TAU * hz * since_s).sin()
                        + second * (2.0 * TAU * hz * since_s).sin());
            }
        }
        at_s += length_s + 0.2;
    }
    x
}

fn sung_guitar(dice: &mut Dice) -> Vec<f64> {
    let mut x: Vec<f64> = part(Instrument::DrivenGuitar, dice).iter().map(|x| 0.5 * x).collect();
    for start_s in [1.0, 5.0] {
        let hz = hz_of(between(dice, 40.0, 64.0).floor()) * (2.0 + between(dice, 0.0, 4.0).floor());
        let fast = between(dice, 2.5, 5.0);
        for n in 0..(3.8 * RATE) as usize {
            let since_s = n as f64 / RATE;
            let shape =
                0.15 / (1.0 + (-(since_s - 1.8) * fast).exp()) * ((3.8 - since_s) / 0.2).min(1.0);
            let turn = TAU * hz * since_s;
            x[(start_s * RATE) as usize + n] += shape
                * ((turn + 0.02 * (TAU * 4.0 * since_s).sin()).sin()
                    + 0.25 * (2.0 * turn).sin()
                    + 0.1 * (3.0 * turn).sin());
        }
    }
    x
}
