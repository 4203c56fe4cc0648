//! Tests of `measure::true_peak`: EBU Tech 3341 cases 15 to 23, and steady sines against ITU-R BS.1770-5 annex 2.

#![expect(clippy::cast_possible_truncation, reason = "signals are made in double precision")]

use deskside::measure::{TruePeak, TruePeakMeter};
use deskside::unit::Unmeasured;
use ebur128::{EbuR128, Mode};
use std::f64::consts::PI;

use crate::support::feeding::{assert_near, measure_whole};
use crate::support::reference::Table;
use crate::support::signals::{faded, programme, scaled, sine};

/// Limits of EBU Tech 3341.
const LIMITS_DB: std::ops::RangeInclusive<f64> = -0.4..=0.2;

/// What is asked here, up to 0.45 of the rate.
const TOLERANCE_DB: f64 = 0.1;

fn measure(rate_hz: u32, planes: &[&[f32]]) -> Vec<Result<TruePeak, Unmeasured>> {
    measure_whole(rate_hz, planes, TruePeakMeter::new, TruePeakMeter::push, TruePeakMeter::finish)
}

fn peak_dbtp(plane: &[f32]) -> f64 {
    measure(48_000, &[plane])[0].as_ref().expect("there is sound").true_peak_dbtp
}

fn check(case: &str, plane: &[f32], expected_dbtp: f64, truth_dbtp: f64) {
    let found = peak_dbtp(plane);
    let off_db = found - expected_dbtp;
    assert!(LIMITS_DB.contains(&off_db), "{case}: {found} dBTP");
    assert_near(found, truth_dbtp, TOLERANCE_DB, case);
}

#[test]
fn tech_3341_cases_15_to_19_read_their_true_peaks() {
    for (case, divisor, amplitude, phase_deg, expected) in [
        ("15", 4.0, 0.5, 0.0, -6.0),
        ("16", 4.0, 0.5, 45.0, -6.0),
        ("17", 6.0, 0.5, 60.0, -6.0),
        ("18", 8.0, 0.5, 67.5, -6.0),
        ("19", 4.0, 1.41, 45.0, 3.0),
    ] {
        let tone = faded(sine(48_000, 48_000.0 / divisor, amplitude, phase_deg, 48_000), 480);
        check(case, &tone, expected, 20.0 * amplitude.log10());
    }
}

/// Cases 20 to 23 at four times the rate: a sine at a sixth of the rate with one period at a quarter and twice the amplitude,
/// low-passed to 0.9 of half the rate with 1023 taps, faded. The standard leaves the low-pass and the fades open.
fn jump_at_four_times_the_rate() -> Vec<f64> {
    let mut signal: Vec<f64> = Vec::new();
    let period = |n: usize, amplitude: f64| {
        (0..n).map(move |at| amplitude * (2.0 * PI * at as f64 / n as f64).sin())
    };
    (0..400).for_each(|_| signal.extend(period(24, 0.5)));
    signal.extend(period(16, 1.0));
    (0..400).for_each(|_| signal.extend(period(24, 0.5)));
    let cutoff = 0.9 / 8.0;
    let taps: Vec<f64> = (0..1023)
        .map(|tap| {
            let off = f64::from(tap) - 511.0;
            let sinc = if off.abs() < 0.5 {
                2.0 * cutoff
            } else {
                (2.0 * PI * cutoff * off).sin() / (PI * off)
            };
            sinc * (0.54 - 0.46 * (2.0 * PI * f64::from(tap) / 1022.0).cos())
        })
        .collect();
    let out = (0..signal.len()).map(|at| {
        let reach = at.saturating_sub(511)..(at + 512).min(signal.len());
        reach.map(|from| signal[from] * taps[from + 511 - at]).sum::<f64>()
    });
    let fade = |at: usize| (at as f64 / 1_920.0).min(1.0);
    let n_all = signal.len();
    out.enumerate().map(|(at, value)| value * fade(at) * fade(n_all - 1 - at)).collect()
}

#[test]
fn tech_3341_cases_20_to_23_read_0_dbtp_at_every_offset() {
    let fine = jump_at_four_times_the_rate();
    // 8 samples a period at least: the crest lies at most 0.04 dB above the highest sample of the fine signal.
    let truth = 20.0 * fine.iter().fold(0.0f64, |top, value| top.max(value.abs())).log10();
    for offset in 0..4 {
        let plane: Vec<f32> =
            fine.iter().skip(offset).step_by(4).map(|&value| value as f32).collect();
        check(["20", "21", "22", "23"][offset], &plane, 0.0, truth);
    }
}

#[test]
fn steady_sines_read_their_amplitude_up_to_0_45_of_the_rate() {
    for percent in [1, 2, 5, 10, 15, 20, 25, 30, 33, 35, 40, 42, 45] {
        for start in 0..8 {
            let frequency_hz = 480.0 * f64::from(percent);
            let tone = sine(48_000, frequency_hz, 0.7, 11.25 * f64::from(start) + 1.0, 4_800);
            let found = peak_dbtp(&faded(tone, 960));
            assert_near(found, 20.0 * 0.7f64.log10(), TOLERANCE_DB, &format!("{frequency_hz} Hz"));
        }
    }
}

#[test]
fn steady_sines_never_read_lower_than_fourfold_may() {
    // BS.1770-5 annex 2, attachment 1: 20 lg cos(pi f / (4 rate)).
    let table = Table::read("true_peak_annex2_sine_errors.csv");
    for row in 0..table.len() {
        let share = table.number(row, "f_over_fs");
        let bound_db = table.number(row, "bound_20lg_cos_pi_fn_over_4");
        for start in 0..8 {
            let tone = sine(48_000, 48_000.0 * share, 1.0, 22.5 * f64::from(start), 4_800);
            let off_db = peak_dbtp(&faded(tone, 960));
            assert!(
                off_db > bound_db - 0.01,
                "{share} of the rate: {off_db} dB, allowed {bound_db}"
            );
        }
    }
}

#[test]
fn programme_agrees_with_an_independent_meter() {
    for seed in 0..4 {
        let plane = programme(seed, 48_000, 10.0);
        let mut theirs = EbuR128::new(1, 48_000, Mode::TRUE_PEAK).expect("a meter");
        theirs.add_frames_f32(&plane).expect("samples");
        let theirs_dbtp = 20.0 * theirs.true_peak(0).expect("a value").log10();
        // Theirs has 12 taps fourfold: in noise it misses up to 0.5 dB and, with its ripple, exceeds by up to 0.2.
        let off_db = peak_dbtp(&plane) - theirs_dbtp;
        assert!((-0.2..=0.55).contains(&off_db), "seed {seed}: {off_db} dB above the other meter");
    }
}

#[test]
fn the_place_of_the_peak_is_found() {
    let mut plane = sine(48_000, 1_000.0, 0.1, 0.0, 96_000);
    plane[70_000] = 0.8;
    let peaks = measure(48_000, &[&plane, &scaled(&plane, -2.0)]);
    let [one, turned] = [0, 1].map(|idx| peaks[idx].clone().expect("there is sound"));
    assert_near(one.at_s, 70_000.0 / 48_000.0, 1.5 / 48_000.0, "place");
    assert_near(turned.true_peak_dbtp - one.true_peak_dbtp, 6.020_6, 1e-4, "gain and polarity");
    assert_eq!(measure(48_000, &[&[0.0; 9]])[0], Err(Unmeasured::Silent), "silence");
}
