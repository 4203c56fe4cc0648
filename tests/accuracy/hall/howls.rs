//! Howls: loops over the edge against held notes.

use std::fmt::Write as _;
use std::ops::Range;

use deskside::dsp::Group;
use deskside::measure::howl::{Howl, HowlMeter, Look, howls};
use rayon::prelude::*;

use super::witness::{self, Marks};
use super::{FRESH, median_and_most};
use crate::support::held;
use crate::support::howling::{self, RATE_HZ, Truth, is_one_of};

/// Loops, and clips without feedback: each of 24 kinds three times.
const LOOPS: Range<u64> = FRESH..FRESH + 72;
const OTHERS: Range<u64> = FRESH..FRESH + 72;

/// Howls that feedback lifts this far over the programme are to be found, in dB.
const PLAIN_DB: f64 = 3.0;

/// Bars: F1, and how far the frequency may be off.
const F1: f64 = 0.95;
const OFF_HZ: f64 = 1.0;

fn found(clip: &[f32]) -> Vec<Howl> {
    let mut meter = HowlMeter::new(RATE_HZ, &[Look::Howls]);
    for block in clip.chunks(16_384) {
        meter.push(Group::new(&[block], RATE_HZ));
    }
    howls(&meter.finish().remove(0))
}

/// What counts.
#[derive(Clone, Copy, Default)]
struct Score {
    hits: usize,
    misses: usize,
    wrong: usize,
}

impl Score {
    fn f1(self) -> f64 {
        let Self { hits, misses, wrong } = self;
        2.0 * hits as f64 / (2 * hits + misses + wrong).max(1) as f64
    }
}

pub(super) fn table() -> String {
    let loops: Vec<(Vec<Howl>, Marks, Truth)> = LOOPS
        .into_par_iter()
        .map(|seed| {
            let (clip, truth) = howling::howling(seed);
            (found(&clip), witness::marks(&clip), truth)
        })
        .collect();
    let others: Vec<(Vec<Howl>, Marks, &str)> = OTHERS
        .into_par_iter()
        .map(|seed| {
            let (clip, kind) = held::innocent(seed);
            (found(&clip), witness::marks(&clip), kind)
        })
        .collect();
    let (mut score, mut off_hz, mut wrong) = (Score::default(), Vec::new(), Vec::new());
    let mut missed_db = Vec::new();
    for (howls, _, truth) in &loops {
        let all: Vec<f64> = truth.lines_hz.iter().chain(&truth.near_hz).copied().collect();
        wrong.extend(howls.iter().filter(|howl| !is_one_of(howl.hz, &all)).map(|_| "loop"));
        if truth.over_db <= PLAIN_DB {
            continue;
        }
        match howls.iter().find(|howl| is_one_of(howl.hz, &truth.lines_hz)) {
            Some(hit) => {
                score.hits += 1;
                let off = |line_hz: &f64| (line_hz - hit.hz).abs();
                off_hz.push(truth.lines_hz.iter().map(off).fold(f64::MAX, f64::min));
            }
            None => {
                score.misses += 1;
                missed_db.push(truth.over_db);
            }
        }
    }
    wrong.extend(others.iter().flat_map(|(howls, _, kind)| howls.iter().map(|_| *kind)));
    score.wrong = wrong.len();
    let (median_hz, most_hz) = median_and_most(&off_hz);
    let n_plain = score.hits + score.misses;
    let mut out = format!(
        "Howls more than {PLAIN_DB:.0} dB over the programme, in {n_plain} simulated closed loops, and {} clips of 24 kinds of held notes without\n\
         feedback. A howl told where there is none, or at a frequency that no loop has, is wrong. Bars: F1 {F1}, frequency within\n\
         {OFF_HZ} Hz. The published criteria are judged clip by clip, without their frequency, at the threshold that does best on these very\n\
         clips. Frequency of the review: median error {median_hz} Hz, largest {most_hz} Hz. Missed, dB over the programme: {}. Wrong: {}.\n\n\
         | way | found | missed | wrong | F1 |\n| --- | --- | --- | --- | --- |\n",
        others.len(),
        listed(missed_db.iter().map(|db| format!("{db:.0}"))),
        listed(wrong.iter().map(|kind| (*kind).to_owned())),
    );
    row(&mut out, "review", score);
    for (way, name) in witness::NAMES.into_iter().enumerate() {
        let plain = loops.iter().filter(|(.., truth)| truth.over_db > PLAIN_DB);
        let loops: Vec<f64> = plain.map(|(_, marks, _)| marks[way]).collect();
        let others: Vec<f64> = others.iter().map(|(_, marks, _)| marks[way]).collect();
        row(&mut out, name, best(&loops, &others));
    }
    out
}

/// The best that one threshold can do.
fn best(loops: &[f64], others: &[f64]) -> Score {
    let at = |threshold: f64| {
        let hits = loops.iter().filter(|mark| **mark >= threshold).count();
        let wrong = others.iter().filter(|mark| **mark >= threshold).count();
        Score { hits, misses: loops.len() - hits, wrong }
    };
    let scores = loops.iter().map(|threshold| at(*threshold));
    scores.max_by(|a, b| a.f1().total_cmp(&b.f1())).unwrap_or_default()
}

fn row(out: &mut String, way: &str, score: Score) {
    let Score { hits, misses, wrong } = score;
    let _ = writeln!(out, "| {way} | {hits} | {misses} | {wrong} | {:.3} |", score.f1());
}

fn listed(values: impl Iterator<Item = String>) -> String {
    let all: Vec<String> = values.collect();
    if all.is_empty() { "none".to_owned() } else { all.join(", ") }
}
