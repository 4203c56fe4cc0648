//! Talk: the host with a microphone in the hand, and the talker at the desk.
//!
//! Takes utterances, gives syllables at four to five a second in phrases with pauses between, the pitch falling over each phrase.
//! Nothing is said.

use crate::demo::random::Random;
use crate::demo::source::canvas::{Canvas, factor, frequency_hz, strength, whole};
use crate::demo::source::filter::Filter;
use crate::demo::source::syllable::{Syllable, smooth};
use crate::demo::source::tract::{Person, Posture, STEP_S, utter};
use crate::demo::source::{Instrument, Note};

/// Syllables a second: 4 to 5 in unhurried speech (common practice).
const SYLLABLES_HZ: f64 = 4.6;

/// Renders talk.
pub(super) fn render(
    instrument: Instrument,
    mut canvas: Canvas,
    notes: &[Note],
    seed: u64,
) -> Vec<f32> {
    let effort_hz = if instrument == Instrument::Host { 3000.0 } else { 4000.0 };
    let n_steps = whole(canvas.samples.len() as f64 / canvas.rate_hz / STEP_S) + 2;
    let mut postures = vec![Posture::REST; n_steps];
    for (idx, note) in (0..).zip(notes) {
        utterance(&mut postures, note, effort_hz, &mut Random::branch(seed, idx));
    }
    smooth(&mut postures);
    let mut random = Random::branch(seed, u64::MAX);
    let mut talker = [Person::new(random.clone(), 0.0, 8.0)];
    random.next_u64();
    utter(&mut canvas, &postures, &mut talker, 1.06, random);
    let rate_hz = canvas.rate_hz;
    canvas.finish(
        -14.3,
        &mut [
            Filter::high_pass(rate_hz, 70.0, 0.7),
            Filter::peak(rate_hz, 600.0, 0.8, -2.0),
            Filter::peak(rate_hz, 4300.0, 1.0, 4.0),
            Filter::high_shelf(rate_hz, 4500.0, 9.0),
        ],
    )
}

/// Cuts an utterance into phrases of one to two and a half seconds and pauses of a third of a second.
fn utterance(postures: &mut [Posture], note: &Note, effort_hz: f64, random: &mut Random) {
    let end_s = note.start_s + note.length_s;
    let mut time_s = note.start_s;
    let mut first = true;
    while time_s < end_s {
        let length_s = random.between(1.1, 2.6);
        // No scrap of a phrase at the end.
        let length_s = if time_s + length_s > end_s - 1.2 { end_s - time_s } else { length_s };
        phrase(postures, note, (time_s, length_s), (effort_hz, first), random);
        time_s += length_s + random.between(0.2, 0.5);
        first = false;
    }
}

fn phrase(
    postures: &mut [Posture],
    note: &Note,
    (start_s, length_s): (f64, f64),
    (effort_hz, first): (f64, bool),
    random: &mut Random,
) {
    let n_syllables = whole(length_s * SYLLABLES_HZ).max(1);
    let mut lengths: Vec<f64> = (0..n_syllables).map(|_| random.between(0.7, 1.3)).collect();
    // The last syllable of a phrase is drawn out.
    lengths[n_syllables - 1] *= 1.4;
    let unit_s = length_s / lengths.iter().sum::<f64>();
    let mut from_s = start_s;
    for (idx, length) in lengths.into_iter().enumerate() {
        let to_s = from_s + unit_s * length;
        let syllable =
            if first && idx == 0 { Syllable::open(random) } else { Syllable::any(random) };
        let stressed = idx % 3 == 1 || random.unit() < 0.2;
        let gone = (from_s - start_s) / length_s;
        let lift = if stressed { random.between(0.0, 3.5) } else { -1.0 };
        let pitch_hz = frequency_hz(note.pitch + 2.5 - 5.0 * gone + lift);
        let level_db = if stressed { 0.0 } else { -3.0 } - 3.0 * gone + random.bell();
        let voice = strength(note.velocity) * factor(level_db);
        let last = idx + 1 == n_syllables;
        syllable.write(postures, from_s, to_s, |time_s| {
            let rest = (to_s - time_s) / (to_s - from_s);
            let ease =
                if rest < 0.2 { (rest / 0.2).max(if last { 0.02 } else { 0.5 }) } else { 1.0 };
            let fall = if last { 0.88 + 0.12 * rest } else { 1.0 };
            Posture {
                pitch_hz: pitch_hz * fall,
                voice: voice * ease,
                effort_hz: effort_hz * factor(0.3 * level_db),
                breath: 0.02 * voice,
                ..Posture::REST
            }
        });
        from_s = to_s;
    }
}
