//! What voices and melody instruments play in a section.
//!
//! Takes the bars of a section, gives notes. A tune is a walk over the scale that meets the chord on strong beats; the
//! same section name gives the same tune. Never quotes a piece of music.

use crate::demo::{
    random::Random,
    scene::{Meter, Part},
    score::bar::Bar,
    source::Note,
};

/// A note of a tune: step of the scale instead of a pitch.
#[derive(Clone, Copy, Debug)]
struct Tone {
    start_s: f64,
    length_s: f64,
    step: i32,
    accent: f64,
}

/// What a voice or melody instrument plays in a section.
pub(super) fn melody(part: Part, bars: &[Bar<'_>], seed: u64) -> Vec<Note> {
    let Some(first) = bars.first() else {
        return Vec::new();
    };
    let section = first.section;
    let solo = section.solo == Some(part);
    let (tones, shift, low_midi, lift) = match part {
        Part::Lead => (tune(bars, &section.name, seed), 0, 57, 0.0),
        Part::Above => (tune(bars, &section.name, seed), 2, 60, -0.05),
        Part::Below => (tune(bars, &section.name, seed), -2, 50, -0.05),
        Part::Choir => (held(bars), 0, 55, 0.0),
        Part::Fiddle if solo => (tune(bars, "solo", seed ^ 1), 0, 69, 0.0),
        Part::Trumpet if solo => (tune(bars, "solo", seed ^ 2), 0, 62, 0.0),
        Part::Trumpet => (call(bars, 0), 0, 62, 0.0),
        Part::Clarinet if solo => (tune(bars, "solo", seed ^ 3), 0, 62, 0.0),
        Part::Clarinet => (call(bars, 1), 2, 64, -0.04),
        Part::Cello if solo => (tune(bars, "solo", seed ^ 4), 0, 48, 0.0),
        Part::Cello => (held(bars), 0, 43, -0.04),
        Part::Sax if solo => (tune(bars, "solo", seed ^ 5), 0, 55, 0.0),
        Part::Sax => (tune(bars, "answer", seed ^ 6), 2, 52, -0.06),
        Part::Drive => (tune(bars, "solo", seed ^ 7), 0, 64, 0.0),
        _ => (held(bars), 2, 67, -0.1),
    };
    let velocity = section.velocity + lift;
    if part == Part::Choir {
        return choir(bars, &tones, velocity);
    }
    // Within an octave and a half from the part's lowest note the walk keeps its shape.
    let octave = (f64::from(low_midi - first.key.tonic_midi) / 12.0).ceil();
    tones
        .into_iter()
        .map(|tone| Note {
            start_s: tone.start_s,
            length_s: tone.length_s,
            pitch: f64::from(first.key.step_midi(tone.step + shift)) + 12.0 * octave,
            velocity: (velocity + tone.accent).clamp(0.05, 1.0),
        })
        .collect()
}

/// A tune in phrases of two bars with a breath at the end of each.
fn tune(bars: &[Bar<'_>], name: &str, seed: u64) -> Vec<Tone> {
    let branch =
        name.bytes().fold(0_u64, |sum, byte| sum.wrapping_mul(31).wrapping_add(u64::from(byte)));
    let mut chance = Random::branch(seed, branch);
    let mut step = *chance.pick(&[0, 2, 4]);
    let mut tones = Vec::new();
    for bar in bars {
        let rests = bar.idx % 2 == 1 || bar.is_last();
        for &(unit, units) in figure(bar.meter, rests, &mut chance) {
            let strong = unit.rem_euclid(f64::from(bar.beat_units()) * 2.0) < 0.5;
            step = if strong {
                nearest_chord_step(step, bar.root_step)
            } else {
                (step + chance.pick(&[-2, -1, 1, 1, -1, 2])).clamp(-2, 8)
            };
            tones.push(Tone {
                start_s: bar.at_s(unit),
                length_s: units * bar.unit_s * 0.96,
                step,
                accent: if strong { 0.02 } else { -0.02 } + 0.02 * chance.bell(),
            });
        }
    }
    tones
}

/// Onsets and lengths in a bar, in units; the second bar of a phrase ends early.
fn figure(meter: Meter, rests: bool, chance: &mut Random) -> &'static [(f64, f64)] {
    let choices: &[&[(f64, f64)]] = match (meter, rests) {
        (Meter::Four, false) => &[
            &[(0.0, 4.0), (4.0, 2.0), (6.0, 2.0), (8.0, 4.0), (12.0, 2.0), (14.0, 2.0)],
            &[(0.0, 2.0), (2.0, 2.0), (4.0, 4.0), (8.0, 2.0), (10.0, 2.0), (12.0, 4.0)],
            &[(0.0, 6.0), (6.0, 2.0), (8.0, 4.0), (12.0, 4.0)],
        ],
        (Meter::Four, true) => &[
            &[(0.0, 4.0), (4.0, 2.0), (6.0, 2.0), (8.0, 5.0)],
            &[(0.0, 2.0), (2.0, 2.0), (4.0, 8.0)],
        ],
        (Meter::Six, false) => &[
            &[(0.0, 2.0), (2.0, 1.0), (3.0, 2.0), (5.0, 1.0)],
            &[(0.0, 3.0), (3.0, 1.0), (4.0, 1.0), (5.0, 1.0)],
        ],
        (Meter::Six, true) => &[&[(0.0, 2.0), (2.0, 1.0), (3.0, 2.0)], &[(0.0, 4.0)]],
    };
    chance.pick::<&[(f64, f64)]>(choices)
}

/// The step of the chord that lies nearest.
fn nearest_chord_step(step: i32, root_step: i32) -> i32 {
    let distance = |candidate: &i32| (candidate - step).abs();
    let within = (-2..=8).filter(|step| matches!((step - root_step).rem_euclid(7), 0 | 2 | 4));
    within.min_by_key(distance).unwrap_or(step)
}

/// One long tone a bar, on the root of its chord.
fn held(bars: &[Bar<'_>]) -> Vec<Tone> {
    bars.iter()
        .map(|bar| Tone {
            start_s: bar.start_s,
            length_s: f64::from(bar.n_units) * bar.unit_s * 0.95,
            step: bar.root_step,
            accent: 0.0,
        })
        .collect()
}

/// A short call every second bar, from this one on.
fn call(bars: &[Bar<'_>], first: u32) -> Vec<Tone> {
    const STEPS: [i32; 4] = [0, 2, 4, 2];
    let mut tones = Vec::new();
    for bar in bars.iter().filter(|bar| bar.idx % 2 == first) {
        let beat = f64::from(bar.beat_units());
        tones.extend(STEPS.iter().zip([0.0, 0.5, 1.0, 1.5]).map(|(step, beats)| Tone {
            start_s: bar.at_s(beats * beat),
            length_s: beat * bar.unit_s * if beats > 1.0 { 1.8 } else { 0.45 },
            step: bar.root_step + step,
            accent: 0.0,
        }));
    }
    tones
}

/// The choir's chords: three notes each, shared out among the singers.
fn choir(bars: &[Bar<'_>], tones: &[Tone], velocity: f64) -> Vec<Note> {
    let chord = |(bar, tone): (&Bar<'_>, &Tone)| {
        let triad = bar.key.triad_from(bar.root_step, 58);
        let low = bar.key.step_from(bar.root_step, 46);
        let tone = *tone;
        [low, triad[0], triad[1], triad[2]].map(|pitch| Note {
            start_s: tone.start_s,
            length_s: tone.length_s,
            pitch,
            velocity: velocity.clamp(0.05, 1.0),
        })
    };
    bars.iter().zip(tones).flat_map(chord).collect()
}
