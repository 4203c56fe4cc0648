//! Threshold to start from: closed forms on steady levels, and a compressor that is run sample by sample.

use deskside::measure::Trace;
use deskside::measure::threshold::{INSTRUMENT_DB, Threshold, VOICE_DB, compressor, compressors};
use deskside::unit::Unmeasured;

use crate::support::planted::{Dice, amplitude, samples};

fn trace(levels_dbfs: impl IntoIterator<Item = f64>) -> Trace {
    let mut trace = Trace::new(0.01);
    levels_dbfs.into_iter().for_each(|level| trace.push_power(10f64.powf(level / 10.0)));
    trace
}

/// Beyond the knee the reduction is `(1 - 1/R)(L - T)`, so that `T = L - 7.5 / (1 - 1/R)`.
#[test]
fn steady_level_gives_the_threshold_of_the_formula() {
    for (ratio, under_db) in [(2.0, 15.0), (3.0, 11.25), (4.0, 10.0), (6.0, 9.0)] {
        let found = compressor(&trace((0..3000).map(|_| -18.0)), ratio, VOICE_DB).unwrap();
        let expected = -18.0 - under_db;
        assert!((found.threshold_dbfs - expected).abs() < 0.05, "{ratio}:1 gives {found:?}");
        assert!((found.median_db - 7.5).abs() < 0.05, "all of it is turned down: {found:?}");
    }
}

/// 3 to 6 dB on an instrument: the threshold stands `3 / (1 - 1/R)` higher than for 6 to 9 dB.
#[test]
fn less_reduction_asks_for_a_higher_threshold() {
    let steady = trace((0..3000).map(|_| -18.0));
    let voice = compressor(&steady, 4.0, VOICE_DB).unwrap().threshold_dbfs;
    let instrument = compressor(&steady, 4.0, INSTRUMENT_DB).unwrap().threshold_dbfs;
    assert!((instrument - voice - 4.0).abs() < 0.05, "{voice} and {instrument}");
}

#[test]
fn gain_before_moves_the_threshold_by_as_much_and_pauses_do_not() {
    let mut dice = Dice::new(4);
    let levels: Vec<f64> = (0..4000).map(|_| -24.0 + 4.0 * dice.normal()).collect();
    let plain = compressor(&trace(levels.clone()), 3.0, VOICE_DB).unwrap();
    let louder = compressor(&trace(levels.iter().map(|level| level + 7.0)), 3.0, VOICE_DB).unwrap();
    let moved = louder.threshold_dbfs - plain.threshold_dbfs;
    assert!((moved - 7.0).abs() < 0.05, "7 dB of gain, moved by {moved}");
    let paused = levels.iter().copied().chain((0..9000).map(|_| -85.0));
    let with_pause = compressor(&trace(paused), 3.0, VOICE_DB).unwrap();
    let moved = with_pause.threshold_dbfs - plain.threshold_dbfs;
    assert!(moved.abs() < 0.1, "a pause of 90 s, moved by {moved}");
}

/// A detector of 10 ms mean squares, run at every sample of noise in syllables.
#[test]
fn compressor_run_sample_by_sample_reduces_by_6_to_9_db_in_loud_phrases() {
    let mut dice = Dice::new(11);
    let noise: Vec<f64> = (0..samples(30.0))
        .map(|n| {
            let time_s = n as f64 / 48_000.0;
            let syllable = (std::f64::consts::TAU * 1.7 * time_s).sin().abs();
            let phrase = -20.0 + 6.0 * (std::f64::consts::TAU * time_s / 9.0).sin();
            amplitude(phrase) * syllable * dice.normal()
        })
        .collect();
    let power = |part: &[f64]| part.iter().map(|x| x * x).sum::<f64>() / part.len() as f64;
    let mut levels = Trace::new(0.01);
    noise.chunks(480).for_each(|part| levels.push_power(power(part)));
    let Threshold { threshold_dbfs, .. } = compressor(&levels, 4.0, VOICE_DB).unwrap();
    let (mut square, mut reduction, mut all) = (0.0, 0.0f64, Vec::new());
    for x in &noise {
        square += (x * x - square) / 480.0;
        let over = 10.0 * f64::max(square, 1e-14).log10() - threshold_dbfs;
        let knee = ((over + 3.0).clamp(0.0, 6.0)).powi(2) / 12.0 + (over - 3.0).max(0.0);
        let wanted = 0.75 * knee;
        let time_s = if wanted > reduction { 0.010 } else { 0.120 };
        reduction += (wanted - reduction) * (1.0 - (-1.0 / (time_s * 48_000.0f64)).exp());
        all.push(reduction);
    }
    all.sort_by(f64::total_cmp);
    let loud = all[9 * all.len() / 10];
    assert!((6.0..=9.0).contains(&loud), "90th percentile {loud} dB at {threshold_dbfs} dBFS");
}

#[test]
fn little_programme_silence_and_low_ratios_have_no_value() {
    let short = compressor(&trace((0..900).map(|_| -20.0)), 4.0, VOICE_DB);
    let have_s = 9.0;
    assert!(
        matches!(short, Err(Unmeasured::TooLittleActive { have_s: s, .. }) if (s - have_s).abs() < 0.1),
        "{short:?}"
    );
    assert_eq!(compressor(&Trace::new(0.01), 4.0, VOICE_DB), Err(Unmeasured::Silent), "nothing");
    let steady = trace((0..3000).map(|_| -20.0));
    for ratio in [1.0, 0.0, -2.0, f64::NAN] {
        assert!(
            compressor(&steady, ratio, VOICE_DB).is_err(),
            "{ratio}:1 turns nothing down by 7.5 dB"
        );
    }
}

#[test]
fn ratios_side_by_side_give_what_each_gives_alone() {
    let mut dice = Dice::new(9);
    let levels = trace((0..4000).map(|_| -24.0 + 6.0 * dice.normal()));
    let ratios = [2.0, 3.0, 4.0, 20.0];
    let alone = ratios.map(|ratio| compressor(&levels, ratio, VOICE_DB).unwrap());
    assert_eq!(compressors(&levels, ratios, VOICE_DB), Ok(alone), "side by side");
    assert!(compressors(&levels, [4.0, 1.1], VOICE_DB).is_err(), "one of them is too low");
}
