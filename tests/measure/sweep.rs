//! Responses to sweeps: the hall that was swept, with noise, a player that distorts, and a clock that runs fast.

#![expect(clippy::cast_possible_truncation, reason = "signals are made in double precision")]

use deskside::measure::decay::{OCTAVES_HZ, after_impulse, after_sweep};
use deskside::measure::sweep::{Sweep, response};
use deskside::unit::Unmeasured;

use crate::support::rooms::{self, RATE_HZ};

const SWEEP: Sweep = Sweep { from_hz: 40.0, to_hz: 18_000.0, length_s: 3.0 };

/// The just noticeable difference of a decay time (ISO 3382-1, table A.1).
const NOTICED: f64 = 0.05;

fn played() -> Vec<f64> {
    rooms::sweep(SWEEP.from_hz, SWEEP.to_hz, SWEEP.length_s)
}

/// Octaves of a hall as the sweep tells them, against the hall's own response: from 63 Hz, where the sweep begins.
fn check(seed: u64, sound: &[f64], snr_db: f64) {
    let [heard, truth] = rooms::in_a_hall(seed, sound, snr_db);
    let found = response(&heard, RATE_HZ, &SWEEP).unwrap();
    let told = after_sweep(&found, RATE_HZ, &SWEEP);
    let truth = after_impulse(&truth, RATE_HZ);
    for ((told, truth), octave_hz) in told.iter().zip(&truth).zip(OCTAVES_HZ) {
        let truth_s = truth.t30.clone().unwrap().t60_s;
        let told_s = told.widest_s().unwrap();
        let off = (told_s / truth_s - 1.0).abs();
        assert!(off <= NOTICED, "{octave_hz:.0} Hz: {told_s} s, the hall has {truth_s} s");
    }
}

#[test]
fn a_sweep_tells_the_octaves_of_a_hall() {
    check(31, &played(), 60.0);
    check(32, &played(), 40.0);
}

#[test]
fn a_loudspeaker_that_distorts_changes_nothing() {
    // Even and odd: 10 % of each. Their responses come before the hall's.
    let driven: Vec<f64> =
        played().iter().map(|x| x + 0.1 * (x * x - 0.5) + 0.1 * x.powi(3)).collect();
    check(33, &driven, 50.0);
}

#[test]
fn a_player_whose_clock_is_20_ppm_fast_changes_nothing() {
    let fast = SWEEP.length_s * (1.0 - 20e-6);
    check(34, &rooms::sweep(SWEEP.from_hz, SWEEP.to_hz, fast), 50.0);
}

#[test]
fn the_sweep_alone_gives_one_sharp_impulse() {
    let played = played().into_iter().chain(std::iter::repeat_n(0.0, 48_000));
    let plane: Vec<f32> = played.map(|x| x as f32).collect();
    let found = response(&plane, RATE_HZ, &SWEEP).unwrap();
    let top = (0..found.len()).max_by(|&a, &b| found[a].abs().total_cmp(&found[b].abs())).unwrap();
    let energy = |part: &[f32]| part.iter().map(|x| f64::from(x * x)).sum::<f64>();
    let near = energy(&found[top - 48..top + 48]) / energy(&found);
    assert!(near > 0.98, "{near} of the energy lies within a millisecond");
}

#[test]
fn octaves_outside_the_sweep_have_no_figures() {
    let narrow = Sweep { from_hz: 200.0, to_hz: 5_000.0, length_s: 3.0 };
    let [heard, _] = rooms::in_a_hall(35, &rooms::sweep(200.0, 5_000.0, 3.0), 60.0);
    let told = after_sweep(&response(&heard, RATE_HZ, &narrow).unwrap(), RATE_HZ, &narrow);
    let reason = Unmeasured::Because("the sweep does not cover the octave");
    for octave in [0, 1, 2, 6, 7] {
        assert_eq!(told[octave].t15, Err(reason.clone()), "{:.0} Hz", OCTAVES_HZ[octave]);
    }
    assert!(told[3].widest_s().is_ok() && told[4].widest_s().is_ok(), "500 Hz and 1 kHz");
}

#[test]
fn noise_silence_and_impossible_sweeps_have_none() {
    let noise: Vec<f32> = rooms::pink(&mut crate::support::signals::Rng::new(36), 0.05, 288_000)
        .iter()
        .map(|&x| x as f32)
        .collect();
    let told = after_sweep(&response(&noise, RATE_HZ, &SWEEP).unwrap(), RATE_HZ, &SWEEP);
    assert!(told.iter().all(|octave| octave.widest_s().is_err()), "noise is no hall: {told:?}");
    let silent = response(&[0.0; 288_000], RATE_HZ, &SWEEP);
    assert_eq!(silent, Err(Unmeasured::Silent), "zeros");
    let short = response(&noise[..48_000], RATE_HZ, &SWEEP);
    assert_eq!(short, Err(Unmeasured::TooShort { have_s: 1.0, need_s: 3.0 }), "cut off");
    for (from_hz, to_hz, length_s) in
        [(0.0, 100.0, 1.0), (100.0, 50.0, 1.0), (50.0, 30_000.0, 1.0), (50.0, 500.0, f64::NAN)]
    {
        let odd = Sweep { from_hz, to_hz, length_s };
        assert!(response(&noise, RATE_HZ, &odd).is_err(), "{odd:?}");
    }
    let none = Sweep { length_s: 0.0, ..SWEEP };
    assert!(response(&noise, RATE_HZ, &none).is_err(), "no length");
}
