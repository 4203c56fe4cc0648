//! Tests of `measure::crest`: closed forms (`crest_factors_known.csv`, `clipped_sine.csv`) and the distribution of the highest
//! of many normal numbers (`gaussian_noise_crest.csv`).

#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "signals are made in double precision, places are small"
)]

use deskside::measure::crest::{active_db, course_db, typical_db, whole_db};
use deskside::measure::{LevelMeter, Levels};
use deskside::unit::{Span, Unmeasured};

use crate::support::feeding::{all_of, assert_near, measure_whole};
use crate::support::reference::Table;
use crate::support::signals::{Rng, noise, programme, scaled, sine, square, triangle};

/// How far the highest sample of a tone of 997 Hz may lie below its crest within seconds, and rounding of samples.
const TOLERANCE_DB: f64 = 0.001;

/// Rounding of two traces.
const TRACE_TOLERANCE_DB: f64 = 0.006;

fn measure(plane: &[f32]) -> Levels {
    let levels =
        measure_whole(48_000, &[plane], LevelMeter::new, LevelMeter::push, LevelMeter::finish);
    levels.into_iter().next().expect("one channel, one result")
}

#[test]
fn known_waves_have_their_known_crests() {
    let table = Table::read("crest_factors_known.csv");
    let tone = |frequency_hz| sine(48_000, frequency_hz, 0.3, 0.0, 240_000);
    let pair = tone(997.0).iter().zip(tone(1_511.0)).map(|(one, other)| one + other).collect();
    for (name, plane, tolerance) in [
        ("sine", tone(997.0), TOLERANCE_DB),
        ("square", square(48_000, 500.0, 0.3, 240_000), TOLERANCE_DB),
        ("triangle", triangle(48_000, 499.0, 0.3, 240_000), 0.002),
        // Both crests must meet on a sample: within 5 s they come this near.
        ("two equal sines", pair, 0.02),
    ] {
        let expected = table.number(table.row("signal", name), "crest_dB");
        let found = measure(&plane);
        assert_near(whole_db(&found).expect("a value"), expected, tolerance, name);
    }
}

#[test]
fn clipped_sines_have_their_known_crests_in_all_three_forms() {
    let table = Table::read("clipped_sine.csv");
    for row in 0..table.len() {
        let over_db = table.number(row, "overdrive_dB");
        let tone = sine(48_000, 997.0, 10f64.powf(over_db / 20.0), 0.0, 240_000);
        let plane: Vec<f32> = tone.iter().map(|sample| 0.5 * sample.clamp(-1.0, 1.0)).collect();
        let (levels, expected) = (measure(&plane), table.number(row, "crest_dB"));
        let all = all_of(48_000, &plane);
        assert_near(whole_db(&levels).expect("a value"), expected, 0.002, "whole");
        let active = active_db(&levels, &all).expect("a value");
        assert_near(active, expected, TRACE_TOLERANCE_DB, "active");
        let typical = typical_db(&levels, &all).expect("a value");
        assert_near(typical, expected, TRACE_TOLERANCE_DB + 0.002, "typical");
    }
}

#[test]
fn noise_has_the_crest_of_the_highest_of_many_normal_numbers() {
    let table = Table::read("gaussian_noise_crest.csv");
    let row = table.row("duration_s", "10");
    let (low, high) = (table.number(row, "crest_p5_dB"), table.number(row, "crest_p95_dB"));
    let crests: Vec<f64> = (0..20)
        .map(|seed| whole_db(&measure(&noise(seed, 0.05, 480_000))).expect("a value"))
        .collect();
    // Nine in ten lie between the 5 % and 95 % points; of 20, five or more outside has a chance of 4 %.
    let n_outside = crests.iter().filter(|&&crest| crest < low || crest > high).count();
    assert!(n_outside < 5, "{n_outside} of 20 outside {low} to {high} dB: {crests:?}");
    let mean = crests.iter().sum::<f64>() / 20.0;
    // Mean of the distribution 13.7 dB, standard deviation 0.42: the mean of 20 within three standard errors.
    assert_near(mean, table.number(row, "crest_median_dB") + 0.05, 0.3, "mean crest");
}

#[test]
fn pauses_between_phrases_do_not_move_the_active_crest() {
    let mut figures = Vec::new();
    for pause_s in [0.2, 0.7, 2.2, 5.2] {
        let mut rng = Rng::new(3);
        let mut plane: Vec<f32> = Vec::new();
        for phrase in 0..6 {
            plane.extend(scaled(&programme(40 + phrase, 48_000, 3.0), 2.0));
            let floor = (pause_s * 48_000.0) as usize;
            plane.extend((0..floor).map(|_| (1e-4 * rng.normal()) as f32));
        }
        let (levels, all) = (measure(&plane), all_of(48_000, &plane));
        let whole = whole_db(&levels).expect("a value");
        figures.push((whole, active_db(&levels, &all).expect("a value")));
    }
    let (first, last) = (figures[0], figures[3]);
    assert!(last.0 - first.0 > 3.0, "the whole crest moves with the pauses: {figures:?}");
    // Windows across the borders of pauses come and go, and with them the place of the highest peaks.
    for figure in &figures {
        assert_near(figure.1, first.1, 0.1, "active crest");
    }
}

#[test]
fn the_course_shows_each_stretch() {
    let mut plane = sine(48_000, 997.0, 0.5, 0.0, 144_000);
    plane.extend(square(48_000, 500.0, 0.5, 144_000));
    plane.extend(vec![0.0; 144_000]);
    let course = course_db(&measure(&plane), 3.0);
    assert_near(course[0].expect("a sine"), 3.01, TRACE_TOLERANCE_DB, "sine");
    assert_near(course[1].expect("a square"), 0.0, TRACE_TOLERANCE_DB, "square");
    assert_eq!(course[2..], [None], "silence has none");
}

#[test]
fn what_has_no_crest_says_why() {
    let silent = measure(&[0.0; 480_000]);
    assert_eq!(whole_db(&silent), Err(Unmeasured::Silent), "silence");
    assert_eq!(active_db(&silent, &[Span::new(0.0, 10.0)]), Err(Unmeasured::Silent), "silence");
    assert_eq!(typical_db(&silent, &[]), Err(Unmeasured::NeverActive), "never active");
}
