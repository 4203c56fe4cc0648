//! Spoken words: utterances with pauses between.
//!
//! Takes a span, gives notes. The first utterance starts and the last one ends with the span.

use crate::demo::{random::Random, scene::Talk, source::Note};

/// Pause between two utterances, shortest and longest, in seconds (common practice for addressing a hall).
const PAUSE_S: (f64, f64) = (0.45, 0.8);

/// Longest utterance, in seconds: a breath (common practice).
const LONGEST_S: f64 = 3.2;

/// The utterances of a talk.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a small count, at least 1"
)]
pub(super) fn utterances(talk: &Talk, seed: u64) -> Vec<Note> {
    let mut chance = Random::branch(seed, talk.start_s.to_bits());
    let span_s = talk.end_s - talk.start_s;
    let n = (span_s / (LONGEST_S + PAUSE_S.1)).ceil().max(1.0) as usize;
    let pauses: Vec<f64> = (1..n).map(|_| chance.between(PAUSE_S.0, PAUSE_S.1)).collect();
    let weights: Vec<f64> = (0..n).map(|_| chance.between(0.8, 1.2)).collect();
    let words_s = span_s - pauses.iter().sum::<f64>();
    let all: f64 = weights.iter().sum();
    let mut start_s = talk.start_s;
    let mut notes = Vec::with_capacity(n);
    for (weight, pause_s) in weights.iter().zip(pauses.iter().chain([&0.0])) {
        let length_s = words_s * weight / all;
        let velocity = (talk.velocity + 0.02 * chance.bell()).clamp(0.05, 1.0);
        notes.push(Note { start_s, length_s, pitch: 50.0, velocity });
        start_s += length_s + pause_s;
    }
    notes
}
