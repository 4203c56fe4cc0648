//! Gates between two taps: tones and strokes that are switched by hand, so that every opening is known.

#![expect(clippy::cast_possible_truncation, reason = "signals are made in double precision")]

use deskside::relate::gate::{self, Gating};
use deskside::relate::reduction::{ReductionMeter, course};
use deskside::unit::Unmeasured;

use crate::support::feeding::assert_near;
use crate::support::paths::delayed;
use crate::support::signals::{Rng, amplitude};
use crate::support::squeeze::Squeeze;

/// A third of the usual rate, for speed: blocks last 2 ms at any.
const RATE_HZ: u32 = 16_000;
const RATE: f64 = 16_000.0;
const SECOND: usize = 16_000;
const LENGTH_S: f64 = 6.0;

/// Strokes of noise every second that fall by 60 dB in half a second, over spill 26 dB under them.
fn strokes(seed: u64) -> Vec<f32> {
    let mut rng = Rng::new(seed);
    (0..(LENGTH_S * RATE) as usize)
        .map(|at| {
            let into_s = (at as f64 / RATE).fract();
            let own = 0.3 * (-13.8 * into_s).exp() * rng.normal();
            (own + 0.015 * rng.normal()) as f32
        })
        .collect()
}

/// Strokes through a gate that is closed by `depth_db` at these times of each second.
fn gated(raw: &[f32], depth_db: f64, closed: &[[f64; 2]]) -> Gating {
    let shut = amplitude(-depth_db);
    let gain = |at: usize| {
        let into_s = (at as f64 / RATE).fract();
        let is_shut = closed.iter().any(|[from, to]| (*from..*to).contains(&into_s));
        if is_shut { shut } else { 1.0 }
    };
    let processed: Vec<f32> =
        raw.iter().enumerate().map(|(at, x)| (f64::from(*x) * gain(at)) as f32).collect();
    let processed = delayed(&processed, 31.0, amplitude(5.0));
    gate::measure(&course(raw, &processed, RATE_HZ).unwrap()).unwrap()
}

#[test]
fn a_gate_that_is_well_set_opens_once_a_stroke() {
    let found = gated(&strokes(1), 20.0, &[[0.4, 1.0]]);
    assert_near(found.depth_db, 20.0, 0.5, "depth");
    // Blocks of 6 ms around an edge see both states.
    assert_near(found.open_share(), 0.4, 0.01, "share of the time");
    assert!(found.residual_db < -25.0, "{}", found.residual_db);
    let switches = found.switches.unwrap();
    assert_eq!(switches.n_closings, 6, "one a second");
    assert!(switches.flutter_at_s.is_empty(), "{:?}", switches.flutter_at_s);
    assert!(switches.cut_at_s.is_empty(), "after 0.4 s a stroke is gone: {:?}", switches.cut_at_s);
}

#[test]
fn flutter_is_counted_where_it_happens() {
    let found = gated(&strokes(2), 20.0, &[[0.2, 0.23], [0.3, 1.0]]);
    let at_s = found.switches.unwrap().flutter_at_s;
    assert_eq!(at_s.len(), 6, "{at_s:?}");
    for (second, at_s) in at_s.iter().enumerate() {
        // Blocks of 2 ms.
        assert_near(*at_s, second as f64 + 0.23, 0.004, "moment");
    }
}

#[test]
fn a_closing_on_a_ringing_drum_is_a_cut() {
    let found = gated(&strokes(3), 30.0, &[[0.05, 1.0]]);
    let switches = found.switches.unwrap();
    assert_eq!(switches.cut_at_s.len(), switches.n_closings, "6 dB under the stroke");
    assert_eq!(switches.n_closings, 6, "one a second");
}

#[test]
fn a_dip_of_less_than_ten_decibels_is_no_flutter() {
    let found = gated(&strokes(4), 8.0, &[[0.2, 0.23], [0.3, 1.0]]);
    assert_near(found.depth_db, 8.0, 0.5, "depth");
    assert!(found.switches.unwrap().flutter_at_s.is_empty(), "8 dB");
}

#[test]
fn a_compressor_and_a_plain_wire_are_no_gates() {
    let raw = strokes(5);
    let squeeze = Squeeze {
        threshold_dbfs: -40.0,
        ratio: 6.0,
        knee_db: 0.0,
        attack_s: 0.002,
        release_s: 0.1,
        rms_s: None,
        is_decoupled: false,
    };
    let reductions_db = squeeze.reductions_db(&raw);
    let pressed: Vec<f32> =
        raw.iter().zip(&reductions_db).map(|(x, db)| x * amplitude(-db) as f32).collect();
    for processed in [pressed, raw.clone()] {
        let found = gate::measure(&course(&raw, &processed, RATE_HZ).unwrap());
        assert_eq!(found, Err(Unmeasured::Because("nothing closes between the taps")));
    }
}

#[test]
fn moments_are_those_of_the_session_though_soft_stretches_are_dropped() {
    // Two soft stretches of 13 s, and loud ones of which the last has a flutter 3 s after its begin.
    let part = |seed: u64, gain: f32| -> Vec<f32> {
        let mut rng = Rng::new(seed);
        (0..13 * SECOND).map(|_| gain * 0.1 * rng.normal() as f32).collect()
    };
    let gains = [0.1, 1.0, 0.1, 1.0, 1.0, 1.0];
    let raw: Vec<f32> = gains.iter().zip(1..).flat_map(|(gain, seed)| part(seed, *gain)).collect();
    let flutter = 5 * 13 * SECOND + 3 * SECOND;
    let is_shut = |at: usize| {
        let pause = (flutter + SECOND..flutter + 4 * SECOND).contains(&at);
        pause || (flutter - SECOND / 50..flutter).contains(&at)
    };
    // In the pause the raw tap is soft too: a gate closes on what is soft.
    let raw: Vec<f32> =
        raw.iter().enumerate().map(|(at, x)| if is_shut(at) { 0.05 * x } else { *x }).collect();
    let processed: Vec<f32> =
        raw.iter().enumerate().map(|(at, x)| if is_shut(at) { 0.05 * x } else { *x }).collect();
    let mut meter = ReductionMeter::new(RATE_HZ);
    for (raw, processed) in raw.chunks(100_000).zip(processed.chunks(100_000)) {
        meter.push(raw, processed);
    }
    let found = meter.finish().unwrap();
    let gating = gate::measure(&found.course).unwrap();
    let at_s = gating.switches.as_ref().unwrap().flutter_at_s.clone();
    assert_eq!(at_s.len(), 1, "{at_s:?}");
    assert_near(at_s[0], flutter as f64 / RATE, 0.004, "moment");
    let open = gate::opened(&gating, &found.course);
    let last = open.last().unwrap();
    assert_near(last.start_s, flutter as f64 / RATE + 4.0, 0.01, "opens behind the pause");
}
