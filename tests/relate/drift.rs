//! Drift from lags that follow known lines.

use deskside::relate::drift::{Way, drift};
use deskside::relate::shared_lag::Sighting;
use deskside::unit::Unmeasured;

use crate::support::planted::Dice;

/// Lags of a pair every 30 s that grow by some parts per million and sway by 0.05 ms.
fn line(reference: usize, ppm: f64, late_s: f64, n: usize) -> Vec<Sighting> {
    let mut dice = Dice::new(40 + reference as u64);
    let at = |idx: usize| {
        let at_s = 5.0 + 30.0 * idx as f64;
        let lag_s = late_s + 1e-6 * ppm * at_s + 5e-5 * dice.normal();
        Sighting { reference, channel: 0, at_s, lag_s, height: 20.0 }
    };
    (0..n).map(at).collect()
}

#[test]
fn two_sources_tell_the_slope_whatever_other_ways_are_found() {
    const PPM: f64 = 18.0;
    let mut lags = [line(0, PPM, 0.031, 10), line(1, PPM, 0.024, 10)].concat();
    let mut dice = Dice::new(9);
    // A wall at some moments, and lags that mean nothing.
    for idx in [1, 4, 5, 8] {
        let one = lags[idx];
        lags.push(Sighting { lag_s: one.lag_s + 0.0081, ..one });
    }
    for idx in 0..20 {
        let one = lags[idx];
        lags.push(Sighting { lag_s: 0.3 * (dice.even() - 0.5), ..one });
    }
    let found = drift(&lags, Way::Hall, |_| true).unwrap();
    assert!((found.ppm - PPM).abs() < 0.5, "{found:?}");
    assert_eq!(found.n_sources, 2, "{found:?}");
    let is_near = |late_s: f64| (found.late_s - late_s).abs() < 2e-4;
    assert!(is_near(0.031) || is_near(0.024), "either pair is borne out as well: {found:?}");
    // 20 m of air that warms from 20 to 25 °C: 58.3 ms become 0.49 ms less (331.3 sqrt(1 + T/273.15) m/s), over 270 s.
    let air_ppm = 1e6 * 0.00049 / 270.0;
    assert!((found.uncertain_ppm - air_ppm).abs() < 0.5, "{found:?}, {air_ppm}");
}

#[test]
fn a_single_source_may_have_walked_3_m() {
    let one = drift(&line(0, 18.0, 0.0, 10), Way::Stage, |_| true).unwrap();
    // 3 m are 8.7 ms at 20 °C, over 270 s.
    assert!(one.uncertain_ppm > 1e6 * 0.0087 / 270.0, "{one:?}");
    let main = [line(0, 18.0, 0.0, 10), line(1, 18.0, 0.0, 10)].concat();
    let main = drift(&main, Way::Stage, |reference| reference == 0).unwrap();
    assert_eq!(main.n_sources, 1, "a mix of that source is no second one: {main:?}");
}

#[test]
fn lags_that_follow_no_line_or_several_tell_nothing() {
    let mut dice = Dice::new(3);
    let scattered: Vec<Sighting> = line(0, 0.0, 0.0, 10)
        .into_iter()
        .map(|one| Sighting { lag_s: 0.02 * dice.even(), ..one })
        .collect();
    assert!(drift(&scattered, Way::Hall, |_| true).is_err(), "people who move about");
    let apart = [line(0, 5.0, 0.0, 10), line(1, 45.0, 0.0, 10)].concat();
    assert!(drift(&apart, Way::Hall, |_| true).is_err(), "two clocks at once");
    let far = line(0, 400.0, 0.0, 10);
    assert!(drift(&far, Way::Hall, |_| true).is_err(), "no clock is off by 400 ppm");
}

#[test]
fn few_moments_and_a_short_take_tell_nothing() {
    let few = drift(&line(0, 18.0, 0.0, 4), Way::Hall, |_| true);
    assert!(matches!(few, Err(Unmeasured::Because(_))), "{few:?}");
    let mut short = line(0, 18.0, 0.0, 8);
    short.iter_mut().for_each(|one| one.at_s /= 10.0);
    let short = drift(&short, Way::Hall, |_| true);
    assert!(matches!(short, Err(Unmeasured::TooShort { .. })), "{short:?}");
}
