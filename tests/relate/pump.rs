//! Pumping: gains that surge in time, that drift, and that jump at random.

use deskside::relate::pump::swing_db;

use crate::support::feeding::assert_near;
use crate::support::signals::Rng;

const STEP_S: f64 = 0.04;

fn gain_db(of: impl Fn(f64) -> f64) -> Vec<f32> {
    (0..1500).map(|step| of(f64::from(step) * STEP_S) as f32).collect()
}

#[test]
fn sine_of_two_hertz_swings_from_trough_to_crest() {
    // A sine of 3 dB lies within 3 sin(81 degrees) = 2.963 dB for nine tenths of the time; a running mean over 1 s, two whole periods,
    // takes nothing off.
    let found = swing_db(&gain_db(|s| 3.0 * (std::f64::consts::TAU * 2.0 * s).sin()), STEP_S);
    assert_near(found.unwrap(), 2.0 * 2.963, 0.1, "swing");
}

#[test]
fn sharp_drops_that_recover_on_every_beat_are_pumping() {
    // 120 beats a minute, 6 dB each, recovering within 200 ms: 6 dB apart but for the ends that percentiles leave out.
    let found = swing_db(&gain_db(|s| -6.0 * (-(s % 0.5) / 0.2).exp()), STEP_S).unwrap();
    assert!((4.0..6.0).contains(&found), "{found} dB");
}

#[test]
fn slow_fades_steady_gains_and_chance_are_not() {
    assert!(swing_db(&gain_db(|s| 0.3 * s), STEP_S).is_err(), "a fade");
    assert!(swing_db(&gain_db(|_| -4.0), STEP_S).is_err(), "nothing moves");
    let mut rng = Rng::new(7);
    let chance: Vec<f32> = (0..1500).map(|_| (6.0 * rng.even()) as f32).collect();
    assert!(swing_db(&chance, STEP_S).is_err(), "chance");
    assert!(swing_db(&gain_db(|s| (12.0 * s).sin())[..300], STEP_S).is_err(), "one block");
}
