//! What drums, bass and chord instruments play in a bar.
//!
//! Takes a bar, gives notes. Never knows where players stand.

use crate::demo::{
    random::Random,
    scene::{Meter, Part},
    score::bar::Bar,
    source::Note,
};

/// Standard deviation of a player's timing, in seconds: a tight amateur band (common practice).
const TIMING_S: f64 = 0.004;

/// Standard deviation of a player's touch, as velocity.
const TOUCH: f64 = 0.02;

/// A hit or note of the pattern: unit of the bar, accent against the section's velocity.
type Stroke = (f64, f64);

/// What a drum plays in a bar.
pub(super) fn drum(part: Part, bar: &Bar<'_>, chance: &mut Random) -> Vec<Note> {
    let fills = bar.is_last() && bar.section.n_bars >= 4;
    let strokes = match bar.meter {
        Meter::Four if leads(bar, Part::Floor) => on_toms(part, bar.idx, fills),
        Meter::Four => in_four(part, bar.idx, fills),
        Meter::Six => in_six(part, bar.idx, fills),
    };
    let pitch = if part == Part::Cajon { 50.0 } else { 60.0 };
    strokes
        .into_iter()
        .map(|(unit, accent)| {
            // Every other stroke of the cajon is a slap.
            let slap = part == Part::Cajon && accent < 0.0;
            let pitch = if slap { 64.0 } else { pitch };
            humanise(bar, unit, 0.4, pitch, accent, chance)
        })
        .collect()
}

fn leads(bar: &Bar<'_>, part: Part) -> bool {
    bar.section.solo == Some(part)
}

/// The toms carry the beat; everything else plays as usual.
fn on_toms(part: Part, idx: u32, fills: bool) -> Vec<Stroke> {
    match part {
        Part::Floor => vec![(0.0, 0.0), (2.0, -0.08), (6.0, -0.04), (8.0, 0.0), (11.0, -0.06)],
        Part::Rack => vec![(4.0, 0.0), (10.0, -0.06), (12.0, 0.0), (14.0, -0.04)],
        part => in_four(part, idx, fills),
    }
}

fn in_four(part: Part, idx: u32, fills: bool) -> Vec<Stroke> {
    match part {
        Part::Kick if idx.is_multiple_of(2) => vec![(0.0, 0.0), (8.0, -0.02), (10.0, -0.06)],
        Part::Kick => vec![(0.0, 0.0), (6.0, -0.06), (8.0, -0.02)],
        Part::Snare | Part::SnareUnder if fills => vec![(4.0, 0.0), (12.0, 0.0), (13.0, -0.1)],
        Part::Snare | Part::SnareUnder => vec![(4.0, 0.0), (12.0, 0.0)],
        Part::Hat if fills => even(0..12, 2, 4),
        Part::Hat => even(0..16, 2, 4),
        Part::Ride => even(0..16, 4, 8),
        Part::Crash if idx == 0 => vec![(0.0, 0.0)],
        Part::Rack if fills => vec![(14.0, -0.02)],
        Part::Floor if fills => vec![(15.0, 0.0)],
        Part::Cajon => vec![(0.0, 0.0), (4.0, -0.04), (6.0, -0.1), (10.0, 0.02), (12.0, -0.04)],
        _ => Vec::new(),
    }
}

fn in_six(part: Part, idx: u32, fills: bool) -> Vec<Stroke> {
    match part {
        Part::Kick if idx % 2 == 1 => vec![(0.0, 0.0), (5.0, -0.08)],
        Part::Kick => vec![(0.0, 0.0)],
        Part::Snare | Part::SnareUnder => vec![(3.0, 0.0)],
        Part::Hat => even(0..6, 1, 3),
        Part::Ride => even(0..6, 3, 3),
        Part::Crash if idx == 0 => vec![(0.0, 0.0)],
        Part::Rack if fills => vec![(4.0, -0.02)],
        Part::Floor if fills => vec![(5.0, 0.0)],
        Part::Cajon => vec![(0.0, 0.0), (2.0, -0.1), (3.0, -0.04), (5.0, -0.1)],
        _ => Vec::new(),
    }
}

/// Strokes every `step` units, those at multiples of `accent_step` harder.
fn even(units: std::ops::Range<u32>, step: usize, accent_step: u32) -> Vec<Stroke> {
    let accent = |unit: u32| if unit.is_multiple_of(accent_step) { 0.0 } else { -0.1 };
    units.step_by(step).map(|unit| (f64::from(unit), accent(unit))).collect()
}

/// What the bass plays in a bar: the root, with the fifth before the next bar.
pub(super) fn bass(bar: &Bar<'_>, chance: &mut Random) -> Vec<Note> {
    /// E of the fourth string.
    const LOWEST_MIDI: i32 = 28;
    let root = bar.key.step_from(bar.root_step, LOWEST_MIDI);
    let fifth = bar.key.step_from(bar.root_step + 4, LOWEST_MIDI);
    let pattern: &[(f64, f64, f64)] = match bar.meter {
        Meter::Four => &[(0.0, 5.5, root), (6.0, 1.8, root), (8.0, 3.8, root), (12.0, 3.6, fifth)],
        Meter::Six => &[(0.0, 2.8, root), (3.0, 1.8, fifth), (5.0, 0.9, root)],
    };
    pattern
        .iter()
        .map(|&(unit, units, pitch)| humanise(bar, unit, units * bar.unit_s, pitch, 0.0, chance))
        .collect()
}

/// What a chord instrument plays in a bar.
pub(super) fn chords(part: Part, bar: &Bar<'_>, chance: &mut Random) -> Vec<Note> {
    let (low_midi, stagger_s, strokes): (i32, f64, Vec<Stroke>) = match (part, bar.meter) {
        (Part::Strum, Meter::Four) => {
            (50, 0.012, vec![(0.0, 0.0), (4.0, -0.05), (6.0, -0.1), (10.0, -0.08), (12.0, -0.04)])
        }
        (Part::Strum, Meter::Six) => {
            (50, 0.012, vec![(0.0, 0.0), (2.0, -0.1), (3.0, -0.04), (5.0, -0.1)])
        }
        (Part::Riff, Meter::Four) => (52, 0.004, vec![(0.0, 0.0), (6.0, -0.05), (8.0, -0.03)]),
        (Part::Riff, Meter::Six) => (52, 0.004, vec![(0.0, 0.0), (3.0, -0.04)]),
        (Part::Drive, Meter::Four) => (
            45,
            0.003,
            vec![(0.0, 0.0), (3.0, -0.06), (6.0, -0.03), (8.0, 0.0), (11.0, -0.06), (14.0, -0.04)],
        ),
        (Part::Drive, Meter::Six) => (45, 0.003, vec![(0.0, 0.0), (2.0, -0.08), (3.0, -0.03)]),
        (Part::Accordion, Meter::Four) => {
            (60, 0.006, vec![(0.0, -0.02), (4.0, 0.0), (7.0, -0.08), (10.0, -0.03), (12.0, 0.0)])
        }
        (Part::Accordion, Meter::Six) => (60, 0.006, vec![(0.0, 0.0), (2.0, -0.06), (4.0, -0.04)]),
        (Part::OrganLeft | Part::OrganRight, _) => (53, 0.0, vec![(0.0, 0.0)]),
        (_, Meter::Four) => (57, 0.0, vec![(0.0, 0.0), (8.0, -0.05)]),
        (_, Meter::Six) => (57, 0.0, vec![(0.0, 0.0)]),
    };
    let ends = strokes.iter().skip(1).map(|stroke| stroke.0).chain([f64::from(bar.n_units)]);
    let triad = bar.key.triad_from(bar.root_step, low_midi);
    let mut notes = Vec::new();
    for ((unit, accent), end) in strokes.iter().zip(ends) {
        let first =
            humanise(bar, *unit, (end - unit) * bar.unit_s * 0.95, triad[0], *accent, chance);
        notes.extend(triad.iter().zip(0_u32..).map(|(pitch, string)| Note {
            start_s: first.start_s + f64::from(string) * stagger_s,
            pitch: *pitch,
            ..first
        }));
    }
    notes
}

/// The metronome in a bar: a higher tone on the first beat.
pub(super) fn click(bar: &Bar<'_>) -> Vec<Note> {
    (0..bar.n_units)
        .step_by(bar.beat_units() as usize)
        .map(|unit| Note {
            start_s: bar.at_s(f64::from(unit)),
            length_s: 0.05,
            pitch: if unit == 0 { 91.0 } else { 84.0 },
            velocity: 1.0,
        })
        .collect()
}

/// A note with a player's scatter.
fn humanise(
    bar: &Bar<'_>,
    unit: f64,
    length_s: f64,
    pitch: f64,
    accent: f64,
    chance: &mut Random,
) -> Note {
    let velocity = bar.section.velocity + accent + TOUCH * chance.bell();
    Note {
        start_s: bar.at_s(unit) + TIMING_S * (1.0 + chance.bell()).max(0.0),
        length_s,
        pitch,
        velocity: velocity.clamp(0.05, 1.0),
    }
}
