//! The main mix over time against loudness figures that follow from ITU-R BS.1770 and from how the signals were made.

use deskside::dsp::Group;
use deskside::measure::{LevelMeter, Levels, LoudnessMeter, Trace};
use deskside::relate::main_mix::{
    creep_db_per_hour, jump_lu, lean, mono_fold_lu, mono_fold_of_powers_db, squashed_percent,
};
use deskside::unit::{Span, Unmeasured};

use crate::support::noise::Noise;

const RATE_HZ: u32 = 48_000;

/// Ten seconds of noise: the power of each 400 ms block lies within a few hundredths of a decibel.
const TOLERANCE_LU: f64 = 0.1;

fn k_power(plane: &[f32]) -> Trace {
    let mut meter = LoudnessMeter::new(RATE_HZ, 1);
    meter.push(Group::new(&[plane], RATE_HZ));
    meter.finish().remove(0).k_power
}

fn levels(plane: &[f32]) -> Levels {
    let mut meter = LevelMeter::new(RATE_HZ, 1);
    meter.push(Group::new(&[plane], RATE_HZ));
    meter.finish().remove(0)
}

fn noise(seed: u64, seconds: usize) -> Vec<f32> {
    Noise::new(seed).samples(seconds * RATE_HZ as usize)
}

fn scaled(plane: &[f32], gain: f32) -> Vec<f32> {
    plane.iter().map(|sample| gain * sample).collect()
}

fn mid(left: &[f32], right: &[f32]) -> Vec<f32> {
    left.iter().zip(right).map(|(left, right)| 0.5 * (left + right)).collect()
}

#[test]
fn mono_loses_nothing_of_one_source_and_3_lu_of_strangers() {
    let whole = [Span::new(0.0, 10.0)];
    let (left, right) = (noise(1, 10), noise(2, 10));
    for (right, expected) in [(&left, 0.0), (&right, -3.01)] {
        let mid = k_power(&mid(&left, right));
        let found = mono_fold_lu(&k_power(&left), &k_power(right), &mid, &whole).unwrap();
        assert!((found - expected).abs() < TOLERANCE_LU, "expected {expected}, found {found}");
    }
    assert_eq!(mono_fold_of_powers_db(1.0, 1.0, 1.0).map(f64::abs), Ok(0.0), "identical sides");
    assert_eq!(mono_fold_of_powers_db(0.0, 0.0, 0.0), Err(Unmeasured::Silent));
}

#[test]
fn a_side_6_db_down_leans_by_6_lu_all_the_time() {
    let left = noise(1, 61);
    let found = lean(&k_power(&left), &k_power(&scaled(&left, 0.5))).unwrap();
    // 20 lg 2 = 6.02
    assert!((found.median_lu - 6.02).abs() < 0.02, "found {}", found.median_lu);
    assert!((found.far_s - 61.0).abs() < 0.1, "far for {} s", found.far_s);
    let silent = vec![0.0; left.len()];
    assert!(lean(&k_power(&left), &k_power(&silent)).is_err(), "a silent side is no lean");
}

#[test]
fn a_jump_is_the_step_at_the_border() {
    let plane = noise(1, 12);
    let (soft, loud) = (scaled(&plane, 0.1), plane);
    let both: Vec<f32> =
        soft[..RATE_HZ as usize * 6].iter().chain(&loud[RATE_HZ as usize * 6..]).copied().collect();
    let found = jump_lu(&[&k_power(&both)], Span::new(0.0, 6.0), Span::new(6.0, 12.0)).unwrap();
    assert!((found - 20.0).abs() < TOLERANCE_LU, "expected 20 LU, found {found}");
    let short = jump_lu(&[&k_power(&both)], Span::new(4.0, 6.0), Span::new(6.0, 12.0));
    assert!(matches!(short, Err(Unmeasured::TooShort { .. })), "two seconds are too short");
}

#[test]
fn a_rise_of_2_db_in_an_hour_is_a_slope_of_2() {
    let songs: Vec<(f64, f64)> =
        (0..5).map(|n| (f64::from(n) * 900.0, -20.0 + 0.5 * f64::from(n))).collect();
    let found = creep_db_per_hour(&songs).unwrap();
    assert!((found - 2.0).abs() < 1e-9, "expected 2 dB/h, found {found}");
    assert!(matches!(creep_db_per_hour(&songs[..3]), Err(Unmeasured::TooFewEvents { .. })));
    let quick: Vec<(f64, f64)> = songs.iter().map(|&(at_s, level)| (at_s / 10.0, level)).collect();
    assert!(matches!(creep_db_per_hour(&quick), Err(Unmeasured::TooShort { .. })));
}

#[test]
fn a_square_wave_is_squashed_and_noise_is_not() {
    // Crest factors: square 0 dB; evenly spread noise 20 lg sqrt(3) = 4.8 dB; Gaussian noise about 13 dB in 3 s.
    let song = [Span::new(0.0, 12.0)];
    let square: Vec<f32> =
        (0..12 * RATE_HZ).map(|n| if n / 100 % 2 == 0 { 0.2 } else { -0.2 }).collect();
    assert_eq!(squashed_percent(&levels(&square), &song), Ok(100.0), "square wave");
    let mut source = Noise::new(9);
    let gaussian: Vec<f32> =
        (0..12 * RATE_HZ).map(|_| (0..12).map(|_| source.next()).sum::<f32>()).collect();
    assert_eq!(
        squashed_percent(&levels(&gaussian), &song),
        Ok(0.0),
        "sum of twelve: nearly Gaussian"
    );
    assert!(squashed_percent(&levels(&square), &[]).is_err(), "no song, no figure");
}
