//! Speech over noise: made levels with known differences, weighted as IEC 61672-1 has it.

use deskside::dsp::thirds::N_BANDS;
use deskside::measure::clearance::speech_over_noise_db;
use deskside::measure::{Thirds, Trace};
use deskside::unit::{Span, Unmeasured};

use crate::support::feeding::assert_near;

/// Codes of a trace, twice.
const ROUNDING_DB: f64 = 0.02;

/// Place of 1 kHz, where A weighting is 0 dB, and of 100 Hz, where it is -19.1 dB (IEC 61672-1, table 3).
const AT_1_KHZ: usize = 16;
const AT_100_HZ: usize = 6;
const A_AT_100_HZ_DB: f64 = -19.1;

/// Steps of 0.2 s whose levels lie in one band.
fn in_band(band: usize, levels_db: impl Iterator<Item = f64>) -> Thirds {
    let mut bands = vec![Trace::new(0.2); N_BANDS];
    for level_db in levels_db {
        for (at, trace) in bands.iter_mut().enumerate() {
            trace.push_power(if at == band { 10f64.powf(level_db / 10.0) } else { 0.0 });
        }
    }
    Thirds { bands }
}

/// A minute: talk in the first half, half of its steps at -20 dB and half at -30 dB; noise in the second.
fn minute(noise_db: f64) -> impl Iterator<Item = f64> {
    (0..300).map(move |step| match (step < 150, step % 4 < 2) {
        (true, true) => -20.0,
        (true, false) => -30.0,
        (false, _) => noise_db,
    })
}

const TALK: [Span; 1] = [Span { start_s: 0.0, end_s: 30.0 }];
const QUIET: [Span; 1] = [Span { start_s: 30.0, end_s: 60.0 }];

#[test]
fn the_difference_of_loud_words_and_noise_is_measured() {
    let over_db = speech_over_noise_db(&in_band(AT_1_KHZ, minute(-45.0)), &TALK, &QUIET).unwrap();
    assert_near(over_db, 25.0, ROUNDING_DB, "-20 over -45 dB");
}

#[test]
fn low_noise_counts_as_a_weighting_has_it() {
    let mut thirds = in_band(AT_1_KHZ, minute(-90.0));
    thirds.bands[AT_100_HZ] = in_band(AT_100_HZ, (0..300).map(|_| -30.0)).bands[AT_100_HZ].clone();
    let over_db = speech_over_noise_db(&thirds, &TALK, &QUIET).unwrap();
    let loud = 10.0 * (10f64.powf(-2.0) + 10f64.powf((-30.0 + A_AT_100_HZ_DB) / 10.0)).log10();
    assert_near(over_db, loud - (-30.0 + A_AT_100_HZ_DB), 0.1, "100 Hz is heard 19.1 dB less");
}

#[test]
fn too_little_talk_and_silence_say_nothing() {
    let short = [Span { start_s: 0.0, end_s: 10.0 }];
    let thirds = in_band(AT_1_KHZ, minute(-45.0));
    assert!(matches!(
        speech_over_noise_db(&thirds, &short, &QUIET),
        Err(Unmeasured::TooLittleActive { .. })
    ));
    let silent = Thirds { bands: vec![zeros(); N_BANDS] };
    assert_eq!(speech_over_noise_db(&silent, &TALK, &QUIET), Err(Unmeasured::Silent));
}

fn zeros() -> Trace {
    let mut trace = Trace::new(0.2);
    (0..300).for_each(|_| trace.push_power(0.0));
    trace
}
