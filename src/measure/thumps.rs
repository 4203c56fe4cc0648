//! # Knocks and rustle
//!
//! What hands, stands and cloth do to a microphone while nobody uses it.
//!
//! - **Formula:** a knock is a step of 10 ms, 15 dB or more over the median of the second on either side and highest within 0.25 s, at
//!   most 0.15 s wide at -10 dB, of which less than half of the power lies above 120 Hz. A rustle is a run of 0.2 to 2 s in steps of
//!   0.2 s whose power from 1 to 6.3 kHz lies 15 dB or more over the median of the pauses, and 6 dB over that from 200 to 800 Hz
//! - **Unit:** s
//! - **Range:** none upwards
//! - **Source:** common practice: a stand and a hand thump low, cloth hisses and has no voice in it
//! - **Window:** pauses of the own source. Cloth and knocks that only one microphone hears pass for its source: what sounds for 2.4 s or less
//!   and from 200 to 800 Hz stays 20 dB under the loud level of the source (90th percentile) or 6 dB under what it has from 1 to 6.3 kHz
//!   is pause
//! - **No value:** never; there may be none
//! - **Misleads when:** a drum or a footstep reaches the microphone: ask what the others do then; somebody breathes or coughs at it

use std::ops::Range;

use super::Trace;
use super::sliding::{level_db, steps_inside};
use super::thirds::{STEP_S, Thirds};
use crate::dsp::percentile::{median, percentile};
use crate::unit::Span;

/// How far a knock or a rustle stands out, in dB.
const OVER_DB: f64 = 15.0;

/// Where a knock is compared, where it is the highest, and how wide it is, in seconds.
const AROUND_S: f64 = 1.0;
const HIGHEST_S: f64 = 0.25;
const WIDEST_S: f64 = 0.15;
const WIDTH_DB: f64 = 10.0;

/// Most of its power above the corner, as a share.
const MOST_ABOVE: f64 = 0.5;

/// Third-octaves of rustle, 1 to 6.3 kHz, and of voices, 200 to 800 Hz; how far the one stands over the other, in dB.
const RUSTLE: Range<usize> = 16..25;
const VOICE: Range<usize> = 9..16;
const OVER_VOICE_DB: f64 = 6.0;

/// Longest rustle, in steps: what lasts longer is a fan or a cymbal.
const LONGEST: usize = 10;

/// The knocks of a channel, in seconds: levels in steps of 10 ms, whole and above 120 Hz.
#[expect(clippy::cast_precision_loss, reason = "a count of steps is far below 2^52")]
pub fn knocks_at_s(levels: &Trace, above: &Trace) -> Vec<f64> {
    let [around, highest, widest] =
        [AROUND_S, HIGHEST_S, WIDEST_S].map(|at_s| levels.step_at(at_s));
    let n_steps = levels.len().min(above.len());
    let all_db = levels.levels_in_db(0..n_steps);
    let level = |step: usize| all_db[step];
    let mut found = Vec::new();
    let mut at = around;
    while at + around < n_steps {
        let top = level(at);
        let is_low = above.power(at) < MOST_ABOVE * levels.power(at);
        let is_top = || (at - highest..=at + highest).all(|step| level(step) <= top);
        if !is_low || top < level(at - highest) + WIDTH_DB || !is_top() {
            at += 1;
            continue;
        }
        let n_wide =
            (at - highest..=at + highest).filter(|&step| level(step) > top - WIDTH_DB).count();
        let usual = median(&(at - around..at + around).map(level).collect::<Vec<_>>());
        if n_wide <= widest && usual.is_some_and(|usual| top >= usual + OVER_DB) {
            found.push(at as f64 * levels.step_s());
        }
        at += highest;
    }
    found
}

/// Longest stretch that may be a hand's, in seconds: two of rustle and what activity adds around it.
const LONGEST_S: f64 = 2.4;

/// The loud level of the source in the range of voices, as a share of its steps, and how far under that no source sounds, in dB.
const LOUD: f64 = 0.9;
const UNDER_LOUD_DB: f64 = 20.0;

/// Those of the stretches in which a channel sounds that hold its source, and not only a hand or cloth.
pub fn of_source(thirds: &Thirds, active: &[Span]) -> Vec<Span> {
    if thirds.bands.len() < RUSTLE.end {
        return active.to_vec();
    }
    let steps = |span: &Span| {
        // A step more on either side: a stretch may be shorter than one.
        let around = Span::new(span.start_s - STEP_S, span.end_s + STEP_S);
        steps_inside(around, STEP_S, thirds.n_steps())
    };
    let all: Vec<f64> =
        active.iter().flat_map(steps).map(|step| power_db(thirds, VOICE, step)).collect();
    let Some(loud_db) = percentile(&all, LOUD) else { return active.to_vec() };
    let is_source = |step: usize| {
        let voice_db = power_db(thirds, VOICE, step);
        voice_db >= loud_db - UNDER_LOUD_DB
            && power_db(thirds, RUSTLE, step) < voice_db + OVER_VOICE_DB
    };
    let holds = |span: &&Span| span.length_s() > LONGEST_S || steps(span).any(is_source);
    active.iter().filter(holds).copied().collect()
}

fn power_db(thirds: &Thirds, bands: Range<usize>, step: usize) -> f64 {
    level_db(thirds.bands[bands].iter().map(|band| band.power(step)).sum())
}

/// The rustles of a channel in its pauses.
pub fn rustles(thirds: &Thirds, pauses: &[Span]) -> Vec<Span> {
    if thirds.bands.len() < RUSTLE.end {
        return Vec::new();
    }
    let steps: Vec<usize> =
        pauses.iter().flat_map(|pause| steps_inside(*pause, STEP_S, thirds.n_steps())).collect();
    let high: Vec<f64> = steps.iter().map(|&step| power_db(thirds, RUSTLE, step)).collect();
    let Some(usual_db) = median(&high) else { return Vec::new() };
    let is_rustle = |at: usize| {
        high[at] >= usual_db + OVER_DB
            && high[at] >= power_db(thirds, VOICE, steps[at]) + OVER_VOICE_DB
    };
    let mut found = Vec::new();
    let mut at = 0;
    while at < steps.len() {
        let run = (at..steps.len())
            .take_while(|&next| steps[next] - steps[at] == next - at && is_rustle(next))
            .count();
        if (1..=LONGEST).contains(&run) {
            found.push(span(steps[at], run));
        }
        at += run.max(1);
    }
    found
}

#[expect(clippy::cast_precision_loss, reason = "a count of steps is far below 2^52")]
fn span(first: usize, n_steps: usize) -> Span {
    Span::new(first as f64 * STEP_S, (first + n_steps) as f64 * STEP_S)
}
