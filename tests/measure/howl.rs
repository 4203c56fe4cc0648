//! Howls: closed loops over the edge are found with their frequency, held notes of 24 kinds are none.

use deskside::measure::howl::{Howl, HowlMeter, HowlTrack, Look, howls, near_rings};
use deskside::unit::Span;
use rayon::prelude::*;

use crate::support::held;
use crate::support::howling::{self, CLIP_S, Truth, is_one_of};
use crate::support::planted::{Dice, RATE_HZ, UNEVEN, float, in_blocks, mix, samples};

fn measure(x: &[f32], rate_hz: u32, wants_rings: bool, lengths: &[usize]) -> HowlTrack {
    let mut meter = HowlMeter::new(rate_hz, &[if wants_rings { Look::Rings } else { Look::Howls }]);
    in_blocks(&[x.to_vec()], rate_hz, lengths, |group| meter.push(group));
    meter.finish().remove(0)
}

fn found(x: &[f32]) -> Vec<Howl> {
    howls(&measure(x, howling::RATE_HZ, false, &[16_384]))
}

/// Loops that were not looked at when the meter was made: seeds from 1000.
const FRESH: std::ops::Range<u64> = 1000..1024;

/// Least F1 of them: one wrong or missed among some dozens.
const BAR: f64 = 0.90;

/// Howls that feedback lifts this far over the programme are to be found, in dB.
const PLAIN_DB: f64 = 3.0;

#[test]
fn howls_of_closed_loops_are_found_and_held_notes_are_none() {
    let loops: Vec<(Vec<Howl>, Truth)> = FRESH
        .into_par_iter()
        .map(|seed| {
            let (x, truth) = howling::howling(seed);
            (found(&x), truth)
        })
        .collect();
    let others: Vec<(Vec<Howl>, &str)> = FRESH
        .into_par_iter()
        .map(|seed| {
            let (x, kind) = held::innocent(seed);
            (found(&x), kind)
        })
        .collect();
    let (mut hits, mut misses) = (0, Vec::new());
    let mut wrong: Vec<String> =
        others.iter().filter(|(howls, _)| !howls.is_empty()).map(|(_, k)| (*k).into()).collect();
    for (howls, truth) in &loops {
        let all: Vec<f64> = truth.lines_hz.iter().chain(&truth.near_hz).copied().collect();
        let is_wrong = |howl: &&Howl| !is_one_of(howl.hz, &all);
        wrong.extend(howls.iter().filter(is_wrong).map(|howl| format!("{:.0} Hz", howl.hz)));
        if truth.over_db <= PLAIN_DB {
            continue;
        }
        let Some(hit) = howls.iter().find(|howl| is_one_of(howl.hz, &truth.lines_hz)) else {
            misses.push(truth.over_db);
            continue;
        };
        hits += 1;
        let apart_hz = truth.lines_hz.iter().map(|hz| (hz - hit.hz).abs()).fold(9.0, f64::min);
        assert!(apart_hz < 1.0, "{} Hz, planted {:?}", hit.hz, truth.lines_hz);
        assert!(
            hit.start_s < truth.span_s[1] && hit.end_s > truth.span_s[0],
            "{hit:?} lies within {:?}",
            truth.span_s
        );
    }
    assert!(hits > 8, "the loops howl");
    let n_wrong = misses.len() + wrong.len();
    let f1 = 2.0 * hits as f64 / (2 * hits + n_wrong) as f64;
    assert!(f1 >= BAR, "F1 {f1}: {hits} found, missed {misses:.0?} dB, wrong {wrong:?}");
}

/// Talk into a loop a little under the edge: at 0.8 dB every second loop at least, at 6 dB none.
#[test]
fn talk_rings_close_to_the_edge_and_not_far_from_it() {
    let rings = |seed: u64, under_db: f64| {
        let (x, near_hz) = howling::ringing(seed, under_db);
        let track = measure(&x, howling::RATE_HZ, true, &[16_384]);
        let rings = near_rings(&track.steady, &[Span::new(0.0, CLIP_S)]);
        (rings.iter().any(|ring| is_one_of(ring.hz, &near_hz)), rings.len())
    };
    let seeds: Vec<u64> = (1000..1004).collect();
    let near = seeds.par_iter().filter(|&&seed| rings(seed, 0.8).0).count();
    let far: usize = seeds.par_iter().map(|&seed| rings(seed, 6.0).1).sum();
    assert!(near >= 2, "{near} of 4 ring 0.8 dB under the edge");
    assert_eq!(far, 0, "and none 6 dB under it");
}

/// Held notes are as steady as rings: outside of talk none is told.
#[test]
fn singing_is_no_ring() {
    let held = (1000..1012u64)
        .map(|seed| measure(&howling::sung(seed), howling::RATE_HZ, true, &[16_384]));
    let held: Vec<HowlTrack> = held.collect();
    let all = [Span::new(0.0, CLIP_S)];
    assert!(held.iter().any(|track| !near_rings(&track.steady, &all).is_empty()), "notes are held");
    assert!(held.iter().all(|track| near_rings(&track.steady, &[]).is_empty()), "nobody talks");
}

/// A line that grows by 40 dB a second from far under the noise, as a loop over the edge does; for less than a quarter of the clip,
/// so that it is not itself the programme.
fn growing(hz: f64, growth_db_s: f64) -> Vec<f64> {
    let line: Vec<f64> = (0..samples(16.0))
        .map(|n| {
            let time_s = n as f64 / 48_000.0;
            let level_db = (-70.0 + growth_db_s * (time_s - 3.0)).min(-6.0);
            let is_on = (3.0..6.0).contains(&time_s);
            let amplitude = if is_on { 10f64.powf(level_db / 20.0) } else { 0.0 };
            amplitude * (std::f64::consts::TAU * hz * time_s).sin()
        })
        .collect();
    mix(&line, &Dice::new(8).dark_noise(800.0, 0.01, samples(16.0)))
}

#[test]
fn frequency_and_growth_of_a_planted_line_are_right() {
    for (hz, growth_db_s) in [(313.7, 40.0), (1234.5, 60.0), (3456.7, 25.0), (6310.2, 80.0)] {
        let track = measure(&float(&growing(hz, growth_db_s)), RATE_HZ, false, &UNEVEN);
        let found = howls(&track);
        assert_eq!(
            found.len(),
            1,
            "{hz} Hz: {found:?} {:?} {:?}",
            track.programme_dbfs,
            track.courses
        );
        let howl = found[0];
        assert!((howl.hz - hz).abs() < 0.5, "{} Hz, planted {hz} Hz", howl.hz);
        // The window of 128 ms rounds the bend where it stops growing.
        let share = howl.growth_db_s / growth_db_s;
        assert!((0.8..1.2).contains(&share), "{} dB/s, planted {growth_db_s}", howl.growth_db_s);
        assert!((howl.end_s - 6.0).abs() < 0.15, "ends at {} s", howl.end_s);
        assert!(
            howl.start_s > 2.9 && howl.start_s < howl.end_s - 0.5,
            "begins at {}",
            howl.start_s
        );
    }
}

#[test]
fn result_does_not_depend_on_how_blocks_are_cut() {
    let x = float(&growing(1234.5, 60.0));
    let whole = measure(&x, RATE_HZ, true, &[1 << 22]);
    assert!(!whole.courses.is_empty(), "there is something to compare");
    assert_eq!(measure(&x, RATE_HZ, true, &UNEVEN), whole, "uneven blocks");
}

#[test]
fn silence_and_short_takes_have_none() {
    for length in [0, 1, 500, 200_000] {
        let track = measure(&vec![0.0; length + 1], RATE_HZ, true, &[4096]);
        assert_eq!(track.programme_dbfs, None, "{length} zeros");
        assert!(howls(&track).is_empty() && track.steady.is_empty(), "{length} zeros");
    }
}
