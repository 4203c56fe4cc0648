//! Gain reduction between two taps: random compressors of the published design on speech, drums and notes.

#![expect(clippy::cast_possible_truncation, reason = "signals are made in double precision")]

use deskside::dsp::biquad::{Biquad, high_pass};
use deskside::relate::reduction::{
    Reduction, ReductionMeter, Settings, Zero, between, static_reduction_db,
};
use deskside::unit::Unmeasured;
use rayon::prelude::*;

use crate::support::feeding::assert_near;
use crate::support::material::{N_KINDS, material};
use crate::support::paths::delayed;
use crate::support::reference::Table;
use crate::support::signals::{Rng, amplitude, noise, scaled};
use crate::support::squeeze::Squeeze;
use crate::support::taps::{seen_db, through};

const RATE_HZ: u32 = 48_000;
const LENGTH_S: f64 = 13.0;

/// What is asked of a trace.
const TRACE_DB: f64 = 0.5;

#[test]
fn the_static_curve_is_the_published_one() {
    let table = Table::read("compressor_static.csv");
    for row in 0..table.len() {
        let of = |column: &str| table.number(row, column);
        let over_db = of("input_dB") - of("threshold_dB");
        let slope = 1.0 - 1.0 / of("ratio");
        let found = static_reduction_db(over_db, of("knee_width_dB"), slope);
        assert_near(found, -of("gain_dB"), 1e-8, &format!("row {row}"));
    }
}

/// A compressed channel: both taps, and what is true of them.
struct Case {
    raw: Vec<f32>,
    processed: Vec<f32>,
    squeeze: Squeeze,
    /// Reduction over 10 ms around each block, weighted as power is.
    truth_db: Vec<f64>,
    /// Gain of everything but the compressor, in dB, where there is no equaliser.
    static_db: Option<f64>,
    delay_samples: f64,
}

fn case(seed: u64) -> Case {
    let mut rng = Rng::new(1_000 + seed);
    let raw = material(seed as usize % N_KINDS, seed, LENGTH_S);
    let loud_dbfs = loud_dbfs(&raw);
    let between = |rng: &mut Rng, low: f64, high: f64| low * (high / low).powf(rng.even());
    let is_rms = rng.even() < 0.5;
    let squeeze = Squeeze {
        threshold_dbfs: loud_dbfs - 6.0 - 12.0 * rng.even(),
        ratio: between(&mut rng, 1.8, 8.0),
        knee_db: [0.0, 6.0, 10.0][(rng.bits() % 3) as usize],
        attack_s: between(&mut rng, 0.001, 0.04),
        release_s: between(&mut rng, 0.04, 0.6),
        rms_s: is_rms.then(|| between(&mut rng, 0.004, 0.025)),
        is_decoupled: rng.even() < 0.5,
    };
    let place = rng.bits() % 3;
    let equaliser = equaliser(&mut rng);
    let heard = if place == 1 { through(&raw, &equaliser) } else { raw.clone() };
    let reductions_db = squeeze.reductions_db(&heard);
    let make_up_db = 8.0 * rng.even();
    let turned_down: Vec<f32> = heard
        .iter()
        .zip(&reductions_db)
        .map(|(x, db)| (f64::from(*x) * amplitude(make_up_db - db)) as f32)
        .collect();
    let behind = if place == 2 { through(&turned_down, &equaliser) } else { turned_down };
    let delay_samples = 240.0 * rng.even();
    let processed = delayed(&behind, delay_samples, 1.0);
    // What comes out of an equaliser that follows is weighed as it comes out.
    let weighing = if place == 0 { raw.clone() } else { through(&raw, &equaliser) };
    let truth_db = seen_db(&reductions_db, &weighing);
    let static_db = (place == 0).then_some(make_up_db);
    Case { raw, processed, squeeze, truth_db, static_db, delay_samples }
}

/// 95th percentile of the level of 50 ms.
fn loud_dbfs(plane: &[f32]) -> f64 {
    let power = |part: &[f32]| part.iter().map(|&x| f64::from(x).powi(2)).sum::<f64>() / 2_400.0;
    let mut powers: Vec<f64> = plane.chunks_exact(2_400).map(power).collect();
    powers.sort_by(f64::total_cmp);
    10.0 * powers[powers.len() * 95 / 100].log10()
}

fn equaliser(rng: &mut Rng) -> Vec<Biquad> {
    let mut sections = high_pass(48_000.0, 60.0 + 60.0 * rng.even(), 2);
    for _ in 0..2 {
        let hz = 150.0 * 30f64.powf(rng.even());
        sections.push(Biquad::peak(48_000.0, hz, 0.6 + 1.5 * rng.even(), -8.0 + 13.0 * rng.even()));
    }
    sections
}

/// Mean absolute error of a trace in the programme.
fn error_db(found: &Reduction, truth_db: &[f64]) -> f64 {
    let blocks = found.trace_db.iter().zip(truth_db).zip(&found.is_programme);
    let errors: Vec<f64> =
        blocks.filter(|(_, is)| **is).map(|((found, truth), _)| (found - truth).abs()).collect();
    errors.iter().sum::<f64>() / errors.len() as f64
}

#[test]
fn random_compressors_are_read_back() {
    const N_CASES: u64 = 16;
    let found: Vec<(Case, Reduction)> = (0..N_CASES)
        .into_par_iter()
        .map(|seed| {
            let case = case(seed);
            let found =
                between(&case.raw, &case.processed, RATE_HZ).expect("two taps of one channel");
            (case, found)
        })
        .collect();
    let (mut traces, mut close, mut gains) = (0, 0, [0; 2]);
    for (case, found) in &found {
        // A minimum phase of its own may stand for some samples of delay.
        assert_near(found.delay_s * 48_000.0, case.delay_samples, 8.0, "delay");
        assert_near(found.polarity, 1.0, 0.0, "polarity");
        if !found.is_sure || found.settings.is_err() {
            continue;
        }
        traces += 1;
        close += usize::from(error_db(found, &case.truth_db) <= TRACE_DB);
        if let Some(static_db) = case.static_db {
            gains[0] += 1;
            gains[1] += usize::from((found.static_gain_db - static_db).abs() <= TRACE_DB);
        }
    }
    assert!(traces >= 6, "{traces} of {N_CASES} traces are sure");
    assert!(close * 100 >= traces * 95, "{close} of {traces} within {TRACE_DB} dB");
    assert_eq!(gains[0], gains[1], "static gains within {TRACE_DB} dB");
    let sure: Vec<(&Squeeze, Settings)> = found
        .iter()
        .filter_map(|(case, found)| Some((&case.squeeze, found.settings.clone().ok()?)))
        .filter(|(_, read)| read.is_sure)
        .collect();
    check_settings(&sure);
}

fn check_settings(sure: &[(&Squeeze, Settings)]) {
    let is_within = |found: f64, truth: f64, share: f64| (found / truth - 1.0).abs() <= share;
    let count = |is_right: &dyn Fn(&Squeeze, &Settings) -> bool| {
        sure.iter().filter(|(truth, read)| is_right(truth, read)).count()
    };
    let all = sure.len();
    let threshold = count(&|truth, read| (read.threshold_dbfs - truth.one_db_dbfs()).abs() <= 1.0);
    let ratio = count(&|truth, read| is_within(read.ratio, truth.ratio_seen(), 0.15));
    let release = count(&|truth, read| is_within(read.release_s, truth.times_s()[1], 0.30));
    let attack = count(&|truth, read| {
        let attack_s = truth.times_s()[0];
        read.attack_s[0] <= attack_s && attack_s <= read.attack_s[1]
    });
    assert!(all >= 8, "{all} settings are sure");
    assert!(threshold * 100 >= all * 75, "threshold: {threshold} of {all} within 1 dB");
    assert!(ratio * 100 >= all * 85, "ratio: {ratio} of {all} within 15 %");
    assert!(release * 100 >= all * 80, "release: {release} of {all} within 30 %");
    assert!(attack * 100 >= all * 90, "attack: {attack} of {all} within the range");
}

#[test]
fn a_channel_that_is_not_turned_down_reads_0_db_and_names_no_settings() {
    let raw = material(0, 3, LENGTH_S);
    let processed = delayed(&raw, 37.3, -amplitude(4.0));
    let found = between(&raw, &processed, RATE_HZ).unwrap();
    assert_near(found.in_programme_db(0.95), 0.0, 0.1, "reduction");
    assert_near(found.static_gain_db, 4.0, 0.1, "gain");
    assert_near(found.polarity, -1.0, 0.0, "polarity");
    assert_near(found.share_above(3.0), 0.0, 0.0, "share");
    assert!(found.settings.is_err(), "{:?}", found.settings);
    assert_eq!(found.zero, Zero::AtRest, "there are pauses");
    assert!(found.is_sure, "{:?}", found.residual_db);
}

/// A fader that moves by some decibels in the middle of noise that swells and fades; all but the end of it, from `pause_from_s` on.
fn behind_a_fader(fader_db: f64, pause_from_s: f64) -> Reduction {
    let raw: Vec<f32> = noise(11, 0.5, 21 * 48_000)
        .iter()
        .enumerate()
        .map(|(at, x)| {
            let time_s = at as f64 / 48_000.0;
            let swells = 0.4 + 0.2 * (std::f64::consts::TAU * 3.0 * time_s).sin();
            x * (if time_s < pause_from_s { swells } else { 0.004 }) as f32
        })
        .collect();
    let squeeze = Squeeze {
        threshold_dbfs: loud_dbfs(&raw) - 8.0,
        ratio: 4.0,
        knee_db: 6.0,
        attack_s: 0.01,
        release_s: 0.1,
        rms_s: Some(0.01),
        is_decoupled: false,
    };
    let reductions_db = squeeze.reductions_db(&raw);
    let gain_db = |at: usize| if at < raw.len() / 2 { 0.0 } else { fader_db };
    let each = raw.iter().zip(&reductions_db).enumerate();
    let processed: Vec<f32> =
        each.map(|(at, (x, db))| x * amplitude(gain_db(at) - db) as f32).collect();
    between(&raw, &processed, RATE_HZ).unwrap()
}

#[test]
fn a_fader_that_moves_leaves_no_sure_settings_where_there_is_no_pause() {
    let (still, moved) = (behind_a_fader(0.0, 21.0), behind_a_fader(4.0, 21.0));
    assert_eq!(still.zero, Zero::ByModel, "it never rests");
    assert!(still.settings.unwrap().is_sure, "a steady fader");
    assert!(!moved.settings.is_ok_and(|settings| settings.is_sure), "a fader that moved");
}

#[test]
fn a_fader_that_moves_leaves_no_sure_trace_behind_a_single_pause() {
    let (still, moved) = (behind_a_fader(0.0, 18.0), behind_a_fader(4.0, 18.0));
    assert_eq!((still.zero, still.is_sure), (Zero::AtRest, true), "a steady fader");
    assert_eq!((moved.zero, moved.is_sure), (Zero::AtRest, false), "a fader that moved");
}

#[test]
fn strangers_silence_and_short_takes_have_no_reduction() {
    let raw = material(2, 1, LENGTH_S);
    let stranger = between(&raw, &noise(3, 0.1, raw.len()), RATE_HZ);
    assert_eq!(stranger, Err(Unmeasured::Because("the two taps are not of one source")));
    let silent = vec![0.0; raw.len()];
    assert_eq!(between(&silent, &silent, RATE_HZ), Err(Unmeasured::Silent));
    assert!(between(&raw, &silent, RATE_HZ).is_err(), "a silent tap");
    let short = between(&raw[..48_000], &raw[..48_000], RATE_HZ);
    assert_eq!(short, Err(Unmeasured::TooShort { have_s: 1.0, need_s: 5.0 }));
    let mut broken = raw.clone();
    broken[1_000] = f32::NAN;
    assert!(between(&broken, &raw, RATE_HZ).is_err(), "a sample that is no number");
}

#[test]
fn the_meter_keeps_the_loudest_stretches_however_blocks_are_cut() {
    // A minute and a half whose loud parts are compressed to the same amount; the rest is 30 dB softer.
    let (mut raw, mut processed) = (Vec::new(), Vec::new());
    for (seed, gain_db) in
        [(1, -30.0), (2, 0.0), (3, -30.0), (4, 0.0), (5, -30.0), (6, -30.0), (7, 0.0)]
    {
        let part = scaled(&material(0, seed, 13.0), amplitude(gain_db) as f32);
        let squeeze = Squeeze {
            threshold_dbfs: -30.0,
            ratio: 3.0,
            knee_db: 6.0,
            attack_s: 0.01,
            release_s: 0.15,
            rms_s: None,
            is_decoupled: false,
        };
        let reductions_db = squeeze.reductions_db(&part);
        processed.extend(part.iter().zip(&reductions_db).map(|(x, db)| x * amplitude(-db) as f32));
        raw.extend(part);
    }
    let measure = |block: usize| {
        let mut meter = ReductionMeter::new(RATE_HZ);
        for (raw, processed) in raw.chunks(block).zip(processed.chunks(block)) {
            meter.push(raw, processed);
        }
        meter.finish().unwrap()
    };
    let found = measure(100_000);
    assert_eq!(found, measure(33_333), "blocks");
    assert_eq!(found.trace_db.len(), 4 * 13 * 500, "four stretches of 13 s");
    assert!(found.in_programme_db(0.95) > 3.0, "the loud ones are among them");
    assert!(ReductionMeter::new(RATE_HZ).finish().is_err(), "nothing pushed");
}
