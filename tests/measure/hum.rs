//! Hum: planted combs are found with their level, bass notes and noise are none.

use deskside::measure::hum::{Hum, HumMeter, judge};
use deskside::unit::{Span, Unmeasured};

use crate::support::planted::{
    Dice, RATE_HZ, UNEVEN, amplitude, in_blocks, mix, samples, sine, stored, tone,
};

/// Loud level that the planted levels are stated against.
const LOUD_DBFS: f64 = -18.0;

/// Lines stand in noise: a window of 2.7 s gives single lines within some tenths of a decibel at 20 dB over it.
const TOLERANCE_DB: f64 = 1.0;

fn measure(x: &[f64], quiet: &[Span], lengths: &[usize]) -> Hum {
    let mut meter = HumMeter::new(RATE_HZ, 1);
    in_blocks(&[stored(x, 24)], RATE_HZ, lengths, |group| meter.push(group));
    let windows = meter.finish().remove(0).expect("some seconds of sound have windows");
    judge(&windows, quiet, LOUD_DBFS)
}

/// Odd-rich comb of equal RMS lines at the multiples given, with their summed power at `level_dbfs`.
fn comb(mains_hz: f64, multiples: &[u32], level_dbfs: f64, time_s: f64) -> Vec<f64> {
    let each = amplitude(level_dbfs) * (2.0 / multiples.len() as f64).sqrt();
    multiples.iter().fold(vec![0.0; samples(time_s)], |x, &k| {
        mix(&x, &tone(mains_hz * f64::from(k), each, f64::from(k), samples(time_s), 48_000.0))
    })
}

/// 12 s of music, 8 s of quiet, 12 s of music: a melody at 110 to 440 Hz.
fn take(floor_dbfs: f64) -> (Vec<f64>, Span) {
    let mut x = Dice::new(13).noise(amplitude(floor_dbfs), samples(32.0));
    for (n, x) in x.iter_mut().enumerate() {
        let time_s = n as f64 / 48_000.0;
        if !(12.0..20.0).contains(&time_s) {
            let note = [110.0, 146.8, 220.0, 329.6, 440.0][n / 24_000 % 5];
            *x += 0.17 * (std::f64::consts::TAU * note * time_s).sin();
        }
    }
    (x, Span::new(12.2, 20.0))
}

/// Multiples of `mains_harmonics.csv`.
const ODD: [u32; 6] = [1, 3, 5, 7, 9, 11];
const FULL: [u32; 12] = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12];

#[test]
fn planted_hum_is_found_with_its_mains_frequency_and_level() {
    for (mains_hz, multiples, level_dbfs) in [
        (50.0, &ODD[..], -60.0),
        (60.0, &ODD[..], -66.0),
        (50.04, &FULL[..], -55.0),
        (59.9, &FULL[..], -60.0),
    ] {
        let (music, quiet) = take(-90.0);
        let hum =
            measure(&mix(&music, &comb(mains_hz, multiples, level_dbfs, 32.0)), &[quiet], &UNEVEN);
        let found = hum.mains_hz.value().unwrap();
        assert!((found - mains_hz).abs() < 0.05, "found {found} Hz, planted {mains_hz} Hz");
        let level = hum.level_db.value().unwrap();
        let expected = level_dbfs - LOUD_DBFS;
        assert!((level - expected).abs() < TOLERANCE_DB, "found {level} dB, planted {expected} dB");
        assert!(
            hum.evidence.iter().all(|span| span.start_s >= 11.9 && span.end_s <= 20.1),
            "heard in the quiet stretch: {:?}",
            hum.evidence
        );
    }
}

#[test]
fn buzz_is_the_part_above_the_tenth_multiple() {
    let (music, quiet) = take(-95.0);
    let low = comb(50.0, &[1, 2, 3, 4, 5, 7], -50.0, 32.0);
    let high = comb(50.0, &[11, 13, 14, 16, 17], -64.0, 32.0);
    let hum = measure(&mix(&music, &mix(&low, &high)), &[quiet], &UNEVEN);
    let buzz = hum.buzz_db.value().unwrap();
    assert!((buzz - (-64.0 - LOUD_DBFS)).abs() < TOLERANCE_DB, "found {buzz} dB");
}

/// G1 is 49.0 Hz and G2 98.0 Hz (twelve-tone scale on 440 Hz); B1 is 61.7 Hz.
#[test]
fn held_bass_note_beside_the_mains_is_no_hum() {
    for note_hz in [49.0, 97.999, 61.735, 51.91, 58.27] {
        let (music, quiet) = take(-90.0);
        let bass = (1..=10).fold(vec![0.0; samples(32.0)], |x, k| {
            let k = f64::from(k);
            mix(&x, &sine(note_hz * k, amplitude(-50.0) / k, 32.0))
        });
        let hum = measure(&mix(&music, &bass), &[quiet], &UNEVEN);
        let reason = hum.mains_hz.reason();
        assert_eq!(reason, Some(&Unmeasured::Because("no mains comb stands out")), "{note_hz} Hz");
    }
}

/// A note of exactly 50 Hz that sounds in one quiet window of three is not in all of them.
#[test]
fn note_in_one_window_alone_is_no_hum() {
    let (music, quiet) = take(-90.0);
    let note = comb(50.0, &FULL, -45.0, 32.0);
    let short: Vec<f64> = note
        .iter()
        .enumerate()
        .map(|(n, x)| if (samples(12.3)..samples(13.5)).contains(&n) { *x } else { 0.0 })
        .collect();
    assert!(measure(&mix(&music, &short), &[quiet], &UNEVEN).mains_hz.value().is_none(), "a note");
}

#[test]
fn noise_gives_an_upper_bound() {
    let (music, quiet) = take(-75.0);
    let hum = measure(&music, &[quiet], &UNEVEN);
    let deskside::unit::Fact::AtMost { at_most, .. } = hum.level_db else {
        panic!("a bound, found {:?}", hum.level_db)
    };
    // 20 lines of 9 bins of 0.37 Hz hold 65 of 24000 Hz of the noise: -26 dB, and -57 dB re the loud level.
    assert!((-95.0..=-75.0).contains(&at_most), "found {at_most} dB");
}

/// No converter is quiet enough for a comb at -108 dBFS to mean anything.
#[test]
fn comb_below_the_noise_of_converters_is_no_hum() {
    let (music, quiet) = take(-130.0);
    let hum = measure(&mix(&music, &comb(60.0, &ODD, -108.0, 32.0)), &[quiet], &UNEVEN);
    assert!(hum.mains_hz.value().is_none(), "{hum:?}");
    let louder = measure(&mix(&music, &comb(60.0, &ODD, -92.0, 32.0)), &[quiet], &UNEVEN);
    assert!(louder.mains_hz.value().is_some(), "16 dB more is one: {louder:?}");
}

#[test]
fn without_a_quiet_stretch_the_channels_own_pauses_serve() {
    let (music, _) = take(-90.0);
    let twice: Vec<f64> = music.iter().chain(&music).copied().collect();
    let hum = measure(&mix(&twice, &comb(60.0, &ODD, -60.0, 64.0)), &[], &UNEVEN);
    let found = hum.mains_hz.value().unwrap();
    assert!((found - 60.0).abs() < 0.05, "found {found} Hz");
    assert!(hum.mains_hz.confidence() < 0.9, "and is less sure");
}

#[test]
fn without_any_quiet_there_is_no_value() {
    let x = Dice::new(1).noise(amplitude(LOUD_DBFS), samples(20.0));
    let hum = measure(&x, &[], &UNEVEN);
    assert_eq!(hum.level_db.reason(), Some(&Unmeasured::NoQuietStretch), "loud all the time");
}

#[test]
fn gain_moves_level_and_reference_together() {
    let (music, quiet) = take(-90.0);
    let x = mix(&music, &comb(50.0, &FULL, -60.0, 32.0));
    let half: Vec<f64> = x.iter().map(|x| 0.5 * x).collect();
    let run = |x: &[f64], loud_dbfs: f64| {
        let mut meter = HumMeter::new(RATE_HZ, 1);
        in_blocks(&[stored(x, 24)], RATE_HZ, &[4096], |group| meter.push(group));
        judge(&meter.finish().remove(0).unwrap(), &[quiet], loud_dbfs).level_db.value().unwrap()
    };
    // 20 lg 0.5 = -6.0206 dB; 24-bit rounding at -60 dBFS is far below 0.01 dB.
    assert!((run(&x, LOUD_DBFS) - run(&half, LOUD_DBFS - 6.0206)).abs() < 0.01, "6 dB down");
}

#[test]
fn result_does_not_depend_on_how_blocks_are_cut() {
    let (music, quiet) = take(-90.0);
    let x = mix(&music, &comb(50.0, &FULL, -60.0, 32.0));
    let whole = measure(&x, &[quiet], &[1 << 22]);
    assert_eq!(measure(&x, &[quiet], &UNEVEN), whole, "uneven blocks");
}

#[test]
fn short_and_silent_recordings_have_no_windows() {
    for (time_s, is_silent) in [(2.0, false), (20.0, true)] {
        let mut meter = HumMeter::new(RATE_HZ, 1);
        in_blocks(&[vec![0.0; samples(time_s)]], RATE_HZ, &[4096], |group| meter.push(group));
        let reason = meter.finish().remove(0).unwrap_err();
        assert_eq!(reason == Unmeasured::Silent, is_silent, "{time_s} s: {reason}");
    }
}
