//! Recorders that were started apart by known times.

use deskside::measure::Trace;
use deskside::relate::startup::startup;

use crate::support::planted::Dice;

/// Steps of a level, in seconds.
const STEP_S: f64 = 0.01;

/// Notes at random: each rises at once and falls by 60 dB a second, over a floor.
fn notes(seed: u64, length_s: f64) -> Vec<f64> {
    let mut dice = Dice::new(seed);
    let mut level_db: f64 = -70.0;
    let steps = (length_s / STEP_S) as usize;
    (0..steps)
        .map(|_| {
            level_db = (level_db - 0.6).max(-70.0);
            if dice.even() < 0.03 {
                level_db = -10.0 - 20.0 * dice.even();
            }
            level_db + 0.5 * dice.normal()
        })
        .collect()
}

fn trace(levels_db: &[f64]) -> Trace {
    let mut trace = Trace::new(STEP_S);
    levels_db.iter().for_each(|level_db| trace.push_power(10f64.powf(level_db / 10.0)));
    trace
}

#[test]
fn a_recorder_is_placed_to_a_step_whether_it_was_started_before_or_after() {
    let levels = notes(1, 200.0);
    let first = trace(&levels);
    let mut earlier = vec![-90.0; 730];
    earlier.extend_from_slice(&levels);
    let found = startup(&[&first], &[&trace(&earlier)]).unwrap();
    assert!((found.late_s - 7.3).abs() < 1e-9, "{found:?}");
    let found = startup(&[&first], &[&trace(&levels[2_140..])]).unwrap();
    assert!((found.late_s + 21.4).abs() < 1e-9, "{found:?}");
}

#[test]
fn other_music_and_a_short_piece_tell_no_start() {
    let levels = notes(1, 200.0);
    let first = trace(&levels);
    for seed in 2..8 {
        assert_eq!(startup(&[&first], &[&trace(&notes(seed, 200.0))]), None, "seed {seed}");
    }
    assert_eq!(startup(&[&first], &[&trace(&levels[..2_000])]), None, "20 s");
    assert_eq!(startup(&[&first], &[]), None, "no channel");
}
