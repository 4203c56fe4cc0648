//! Tests of `demo::desk`: filters, compressor, faders and effect against closed forms and published tables.

use std::f64::consts::FRAC_1_SQRT_2;

use deskside::demo::{
    desk::{Automation, Biquad, Reverberator, Squeeze, pan_gains, static_gain_db},
    scene::{Compressor, Eq, EqKind, Move, Scene, Switch},
};

use crate::support::demo::{quiet_scene, single};

const RATE_HZ: f64 = 48_000.0;

/// Closed forms hold to single precision of the samples.
const EXACT_DB: f64 = 0.01;

/// Gain of a filter at a frequency, from a second of sine after it has settled.
fn gain_db(mut filter: Biquad, hz: f64) -> f64 {
    let mut sine: Vec<f32> = (0..96_000)
        .map(|n| single((std::f64::consts::TAU * hz * f64::from(n) / RATE_HZ).sin()))
        .collect();
    let power = |x: &[f32]| x.iter().map(|x| f64::from(*x).powi(2)).sum::<f64>();
    let before = power(&sine[48_000..]);
    filter.run(&mut sine);
    10.0 * (power(&sine[48_000..]) / before).log10()
}

fn compressor(threshold_dbfs: f64, ratio: f64, knee_db: f64) -> Compressor {
    Compressor { threshold_dbfs, ratio, knee_db, attack_s: 0.010, release_s: 0.100, makeup_db: 0.0 }
}

#[test]
fn high_pass_is_3_01_db_down_at_its_corner_and_12_db_an_octave_below() {
    for corner_hz in [80.0, 120.0, 250.0] {
        let filter = Biquad::high_pass(corner_hz, RATE_HZ);
        // Butterworth of second order: 10 lg 2 at the corner, 10 lg(1 + 2^4) an octave and 10 lg(1 + 4^4) two below.
        for (hz, expected_db) in [(1.0, -3.0103), (0.5, -12.3045), (0.25, -24.0993)] {
            let found_db = gain_db(filter.clone(), hz * corner_hz);
            // The bilinear transform bends the slope by less than this so far below half the rate.
            assert!(
                (found_db - expected_db).abs() < 0.02,
                "{corner_hz} Hz at {hz} of it: {found_db} dB"
            );
        }
    }
}

#[test]
fn equaliser_gives_its_gain_where_it_says() {
    let bell = Eq { kind: EqKind::Bell, hz: 1000.0, gain_db: -6.0, q: 1.4 };
    assert!(
        (gain_db(Biquad::eq(&bell, RATE_HZ), 1000.0) + 6.0).abs() < EXACT_DB,
        "bell at its middle"
    );
    assert!(gain_db(Biquad::eq(&bell, RATE_HZ), 30.0).abs() < 0.1, "bell far below");
    let high = Eq { kind: EqKind::HighShelf, hz: 2000.0, gain_db: 4.0, q: FRAC_1_SQRT_2 };
    assert!((gain_db(Biquad::eq(&high, RATE_HZ), 16_000.0) - 4.0).abs() < 0.05, "shelf far above");
    // A shelf stands at half its gain at its frequency.
    assert!(
        (gain_db(Biquad::eq(&high, RATE_HZ), 2000.0) - 2.0).abs() < EXACT_DB,
        "shelf in the middle"
    );
    let low = Eq { kind: EqKind::LowShelf, hz: 400.0, gain_db: -5.0, q: FRAC_1_SQRT_2 };
    assert!((gain_db(Biquad::eq(&low, RATE_HZ), 20.0) + 5.0).abs() < 0.05, "low shelf far below");
    assert!(gain_db(Biquad::eq(&low, RATE_HZ), 12_000.0).abs() < 0.05, "low shelf far above");
}

#[test]
fn loudness_weighting_is_the_published_one() {
    // ITU-R BS.1770-5: a sine of 997 Hz at 0 dBFS in one channel reads -3.01 LUFS; -0.691 takes the filter's gain away there.
    let [shelf, high_pass] = Biquad::loudness_weighting();
    let sum_db = gain_db(shelf, 997.0) + gain_db(high_pass, 997.0);
    assert!((sum_db - 0.691).abs() < 0.005, "{sum_db} dB at 997 Hz");
}

#[test]
fn static_curve_is_that_of_the_published_formula() {
    let table = include_str!("../../corpus/reference/compressor_static.csv");
    let rows: Vec<Vec<f64>> = table
        .lines()
        .filter(|line| line.starts_with('-'))
        .map(|line| line.split(',').map(|cell| cell.parse().unwrap()).collect())
        .collect();
    assert!(rows.len() > 100, "{} rows", rows.len());
    for row in rows {
        let found_db = static_gain_db(&compressor(row[0], row[1], row[2]), row[3]);
        // The table is printed to some six digits.
        assert!((found_db - row[5]).abs() < 1e-4, "{row:?}: {found_db} dB");
    }
}

#[test]
fn a_square_wave_of_minus_10_comes_out_at_minus_17_5() {
    // Threshold -20, 4:1: what an independent compressor returned for this signal.
    let mut wave: Vec<f32> =
        (0..48_000).map(|n| if n / 48 % 2 == 0 { 0.316_228 } else { -0.316_228 }).collect();
    let mut reductions = Vec::new();
    Squeeze::new(compressor(-20.0, 4.0, 0.0), RATE_HZ).run(&mut wave, 480, &mut reductions);
    let level_db = 20.0 * f64::from(wave[47_999].abs()).log10();
    assert!((level_db + 17.5).abs() < EXACT_DB, "{level_db} dBFS");
    let last_db = f64::from(*reductions.last().unwrap());
    assert!((last_db - 7.5).abs() < EXACT_DB, "{last_db} dB of gain reduction");
}

#[test]
fn attack_and_release_reach_63_percent_in_their_time() {
    let steady = |level: f32, n: usize| vec![level; n];
    let mut squeeze = Squeeze::new(compressor(-20.0, 4.0, 0.0), RATE_HZ);
    let mut reductions = Vec::new();
    // 10 ms at -10 dBFS, then enough to settle, then silence for 100 ms.
    squeeze.run(&mut steady(0.316_228, 480), 1, &mut reductions);
    let attacked = f64::from(*reductions.last().unwrap()) / 7.5;
    assert!(
        (attacked - (1.0 - (-1.0_f64).exp())).abs() < 0.001,
        "{attacked} of 7.5 dB after the attack"
    );
    squeeze.run(&mut steady(0.316_228, 48_000), 1, &mut reductions);
    squeeze.run(&mut steady(0.0, 4_800), 1, &mut reductions);
    let released = f64::from(*reductions.last().unwrap()) / 7.5;
    assert!(
        (released - (-1.0_f64).exp()).abs() < 0.001,
        "{released} of 7.5 dB left after the release"
    );
}

#[test]
fn pan_keeps_the_power() {
    for pan in [-1.0, -0.5, 0.0, 0.3, 1.0] {
        let [left, right] = pan_gains(pan).map(f64::from);
        assert!((left * left + right * right - 1.0).abs() < 1e-6, "power at {pan}");
    }
    let centre_db = 20.0 * f64::from(pan_gains(0.0)[0]).log10();
    assert!((centre_db + 3.0103).abs() < 0.001, "{centre_db} dB in the centre");
}

fn moved(scene: &Scene) -> Automation {
    Automation::new(scene, "LV", -6.0, true)
}

#[test]
fn faders_move_evenly_in_decibels() {
    let mut scene = quiet_scene(5.0);
    let channels = vec!["LV".to_owned()];
    scene.moves.push(Move { channels, at_s: 1.0, ramp_s: 2.0, fader_db: 2.0 });
    let automation = moved(&scene);
    for (at_s, expected_db) in [(0.5, -6.0), (1.5, -4.0), (2.0, -2.0), (3.0, 2.0), (4.0, 2.0)] {
        let found_db = automation.fader_db(at_s);
        assert!((found_db - expected_db).abs() < 1e-9, "{found_db} dB at {at_s} s");
    }
}

#[test]
fn switches_take_10_ms() {
    let mut scene = quiet_scene(5.0);
    let channels = vec!["LV".to_owned()];
    scene.switches.push(Switch { channels: channels.clone(), at_s: 1.0, open: false });
    scene.switches.push(Switch { channels, at_s: 2.0, open: true });
    let automation = moved(&scene);
    let open = 10_f64.powf(-6.0 / 20.0);
    let cases = [
        (0.999, open),
        (1.005, open / 2.0),
        (1.011, 0.0),
        (1.999, 0.0),
        (2.005, open / 2.0),
        (2.011, open),
    ];
    for (at_s, expected) in cases {
        let found = automation.gain(at_s);
        assert!((found - expected).abs() < 1e-6, "{found} at {at_s} s, expected {expected}");
    }
    let mut ones = vec![1.0_f32; 1000];
    automation.apply(&mut ones, 47_900, RATE_HZ);
    assert!((f64::from(ones[50]) - open).abs() < 1e-6, "open before");
    assert!(ones[700..].iter().all(|x| *x == 0.0), "closed after");
}

#[test]
fn effect_decays_in_its_time() {
    let mut reverberator = Reverberator::new(1.6, 0.025, RATE_HZ);
    let mut send = vec![0.0_f32; 96_000];
    send[0] = 1.0;
    let [left, right] = reverberator.run(&send);
    assert!(
        left[..1200].iter().all(|x| *x == 0.0),
        "silent for the time before the first reflection"
    );
    let level_db = |side: &[f32], from: usize| {
        10.0 * side[from..from + 9_600].iter().map(|x| f64::from(*x).powi(2)).sum::<f64>().log10()
    };
    for side in [&left, &right] {
        let fall_db = level_db(side, 12_000) - level_db(side, 60_000);
        // One second: 60/1.6 dB, a little more as treble goes first.
        assert!((37.0..50.0).contains(&fall_db), "falls by {fall_db} dB a second");
    }
}

#[test]
fn resonance_rings_for_its_time() {
    let mut filter = Biquad::resonance(2500.0, 0.9, RATE_HZ);
    let mut samples = vec![0.0_f32; 48_000];
    samples[0] = 1.0;
    filter.run(&mut samples);
    let peak = |from: usize| samples[from..from + 400].iter().fold(0.0_f32, |m, x| m.max(x.abs()));
    let fall_db = 20.0 * f64::from(peak(2_000) / peak(23_600)).log10();
    // 21,600 samples are 0.45 s: half of 60 dB.
    assert!((fall_db - 30.0).abs() < 0.1, "{fall_db} dB");
    assert!(
        gain_db(Biquad::resonance(2500.0, 0.05, RATE_HZ), 2500.0).abs() < EXACT_DB,
        "1 at its frequency"
    );
}
