//! Tests of `measure::tone`.

use deskside::dsp::thirds::{N_BANDS, NOMINAL_HZ, edges_hz, mid_hz};
use deskside::measure::tone::{
    EDGE_NEEDS_PHRASES, N_TONE_BANDS, TONE_BAND_NAMES, Tone, block_shares_db, edge, tone,
};
use deskside::measure::trace::FLOOR_DB;
use deskside::measure::{Thirds, ThirdsMeter, Trace};
use deskside::unit::{Span, Unmeasured};

use crate::support::feeding::{all_of, assert_near, measure_whole};
use crate::support::reference::Table;
use crate::support::signals::shaped_noise;

/// Rounding of traces and of the printed figures.
const TOLERANCE_DB: f64 = 0.02;

/// Shares of the ten bands in the speech spectrum of Byrne et al. 1994 (JASA 96(4), table II, combined talkers, 63 Hz to
/// 16 kHz), by power sums of the printed third-octave levels.
const SPEECH_SHARES_DB: [Option<f64>; N_TONE_BANDS] = [
    None,
    Some(-15.2),
    Some(-6.8),
    Some(-7.3),
    Some(-3.2),
    Some(-12.3),
    Some(-17.3),
    Some(-21.9),
    Some(-23.0),
    Some(-23.3),
];

/// Level of a third-octave in the published speech spectrum, in dB; nothing below 63 Hz.
fn speech_db(table: &Table, band: usize) -> Option<f64> {
    let is_it = |&row: &usize| (table.number(row, "nominal_hz") - NOMINAL_HZ[band]).abs() < 0.5;
    (0..table.len()).find(is_it).map(|row| table.number(row, "combined_dB"))
}

fn measure(rate_hz: u32, plane: &[f32]) -> Thirds {
    let results =
        measure_whole(rate_hz, &[plane], ThirdsMeter::new, ThirdsMeter::push, ThirdsMeter::finish);
    results.into_iter().next().expect("one channel, one result")
}

/// Steps with the given levels in every band.
fn made(levels_db: &[f64], shape_db: impl Fn(usize) -> f64) -> Thirds {
    let band = |band: usize| {
        let mut trace = Trace::new(0.2);
        levels_db.iter().for_each(|db| trace.push_power(10f64.powf((db + shape_db(band)) / 10.0)));
        trace
    };
    Thirds { bands: (0..N_BANDS).map(band).collect() }
}

#[test]
fn the_published_speech_spectrum_as_noise_reads_its_published_shares() {
    let table = Table::read("ltass_byrne1994.csv");
    for rate_hz in [44_100, 48_000] {
        let density = |frequency_hz: f64| {
            let inside = |&band: &usize| {
                let [low_hz, high_hz] = edges_hz(band);
                low_hz <= frequency_hz && frequency_hz < high_hz
            };
            let band = (0..N_BANDS).find(inside);
            let level_db = band.and_then(|band| speech_db(&table, band).map(|db| (band, db)));
            level_db.map_or(0.0, |(band, db)| 10f64.powf(db / 10.0) / mid_hz(band))
        };
        let plane = shaped_noise(1, rate_hz, 30 * rate_hz as usize, 0.05, density);
        let found = tone(&measure(rate_hz, &plane), &all_of(rate_hz, &plane)).expect("a value");
        for (band, expected) in SPEECH_SHARES_DB.iter().enumerate() {
            // Filters have skirts: beside a band that is 11 dB stronger, a tenth of a dB comes over. Noise of 30 s adds 0.1.
            if let Some(expected) = expected {
                let share_db = found.share_db(band).expect("a value");
                assert_near(share_db, *expected, 0.3, TONE_BAND_NAMES[band]);
            }
        }
        assert!(found.share_db(0).expect("a value") < -30.0, "nothing below 56 Hz");
        // 1778-5623 Hz minus 355-891 Hz of the same table: -12.8 dB by power sums.
        assert_near(found.clarity_db().expect("a value"), -12.8, 0.3, "clarity");
    }
}

#[test]
fn shares_are_power_sums_of_the_printed_levels() {
    let table = Table::read("ltass_byrne1994.csv");
    let thirds = made(&[-70.0; 30], |band| speech_db(&table, band).unwrap_or(-120.0));
    let found = tone(&thirds, &[Span::new(0.0, 6.0)]).expect("a value");
    for (band, expected) in SPEECH_SHARES_DB.iter().enumerate() {
        if let Some(expected) = expected {
            let share_db = found.share_db(band).expect("a value");
            assert_near(share_db, *expected, 0.05 + TOLERANCE_DB, TONE_BAND_NAMES[band]);
        }
    }
    let total: f64 = found.thirds_db().iter().flatten().map(|db| 10f64.powf(db / 10.0)).sum();
    assert_near(total, 1.0, 1e-9, "third-octaves re total make one");
}

#[test]
fn pink_bands_have_no_tilt_and_a_falling_row_has_its_own() {
    let tilt = |slope: f64| {
        let thirds = made(&[-30.0; 30], |band| slope * mid_hz(band).log2());
        tone(&thirds, &[Span::new(0.0, 6.0)]).and_then(|tone| tone.tilt_db_per_octave())
    };
    assert_near(tilt(0.0).expect("a value"), 0.0, TOLERANCE_DB, "flat");
    assert_near(tilt(-2.0).expect("a value"), -2.0, TOLERANCE_DB, "falling");
    // The published mean of 12 345 records (Elowsson & Friberg 2017), third-octave levels from 100 Hz to 4 kHz.
    let table = Table::read("ltas_popular_music.csv");
    let level = |band: usize| {
        let is_it = |&row: &usize| (table.number(row, "freq_hz") - NOMINAL_HZ[band]).abs() < 0.5;
        let row = (0..table.len()).find(is_it);
        row.map_or(-30.0, |row| table.number(row, "third_octave_band_dB_re_1k"))
    };
    let found = tone(&made(&[-30.0; 30], level), &[Span::new(0.0, 6.0)]).expect("a value");
    // Density falls by 4.5 dB an octave, bands widen by 3.0; a straight line through a curved row gives a little less.
    assert_near(found.tilt_db_per_octave().expect("a value"), -1.53, 0.25, "records");
}

#[test]
fn energy_below_a_frequency_splits_the_band_it_lies_in() {
    let flat = Tone { powers: vec![1.0; N_BANDS], counted_s: 10.0 };
    let below = |corner_hz: f64| flat.below_db(corner_hz).expect("a value");
    let share = |n_bands: f64| 10.0 * (n_bands / N_BANDS as f64).log10();
    assert_near(below(edges_hz(3)[1]), share(4.0), 1e-9, "four whole bands");
    assert_near(below(mid_hz(4)), share(4.5), 1e-9, "half of the fifth");
    assert_near(below(20_000.0), 0.0, 1e-9, "all");
    assert!(flat.below_db(20.0).is_err(), "nothing lies below the lowest band");
}

#[test]
fn half_of_the_energy_lies_below_the_middle() {
    let middle_hz = |low_db: f64| {
        // Flat bands from 100 Hz to 1 kHz (7 to 17), and one at 50 Hz that may outweigh them all.
        let shape = |band: usize| match band {
            4 => low_db,
            7..=17 => 0.0,
            _ => -120.0,
        };
        tone(&made(&[-30.0; 30], shape), &[Span::new(0.0, 6.0)]).expect("a value").middle_hz()
    };
    // Eleven equal bands: the sixth holds the middle.
    assert_eq!(middle_hz(-120.0), Some(mid_hz(12)));
    // 10 lg 11 = 10.4 dB: as much as all others together.
    assert_eq!(middle_hz(11.0), Some(mid_hz(4)));
    assert_eq!(middle_hz(9.8), Some(mid_hz(7)));
}

#[test]
fn soft_steps_do_not_count() {
    // 3 s loud and dull, 3 s at -19.9 dB counted, 3 s at -20.2 dB not.
    let mut thirds = made(&[[-30.0; 15], [-49.8; 15], [-50.3; 15]].concat(), |_| 0.0);
    // What is soft is bright: it would show in the shares.
    let top = &mut thirds.bands[N_BANDS - 1];
    let mut bright = Trace::new(0.2);
    (0..45).for_each(|step| bright.push_power(top.power(step)));
    *top = bright;
    let found = tone(&thirds, &[Span::new(0.0, 9.0)]).expect("a value");
    assert_near(found.counted_s, 6.0, 1e-9, "counted time");
}

#[test]
fn blocks_have_their_own_shares_and_idle_ones_none() {
    // 30 s: low in the first 10 s, high in the second, silent in the third.
    let (mut low, mut high) = (Trace::new(0.2), Trace::new(0.2));
    for step in 0..150 {
        low.push_power(if step < 50 { 0.1 } else { 0.0 });
        high.push_power(if (50..100).contains(&step) { 0.1 } else { 0.0 });
    }
    let mut silent = Trace::new(0.2);
    (0..150).for_each(|_| silent.push_power(0.0));
    let mut bands = vec![silent; N_BANDS];
    (bands[0], bands[28]) = (low, high);
    let blocks =
        block_shares_db(&Thirds { bands }, &[Span::new(0.0, 30.0)], 10.0).expect("a value");
    assert_eq!(blocks.len(), 2, "two blocks sound");
    assert_near(blocks[0].0, 0.0, 1e-9, "begin of the first");
    assert_near(blocks[0].1[0], 0.0, TOLERANCE_DB, "all is floor");
    assert_near(blocks[1].0, 10.0, 1e-9, "begin of the second");
    assert_near(blocks[1].1[9], 0.0, TOLERANCE_DB, "all is air");
    assert_near(blocks[1].1[0], FLOOR_DB, 1e-9, "no floor");
}

#[test]
fn loud_phrases_that_are_brighter_show_an_edge_that_grows() {
    // Twelve phrases of 1 s; the three loudest carry 8 dB more from 2 to 5 kHz.
    let (mut thirds, mut phrases) = (made(&[], |_| 0.0), Vec::new());
    for phrase in 0..12 {
        let loud = phrase % 4 == 0;
        for _ in 0..5 {
            for (band, trace) in thirds.bands.iter_mut().enumerate() {
                let bright_db = if loud && (19..24).contains(&band) { 8.0 } else { 0.0 };
                let level_db = if loud { -30.0 } else { -40.0 };
                let body_db = if (12..16).contains(&band) { 10.0 } else { 0.0 };
                trace.push_power(10f64.powf((level_db + bright_db + body_db) / 10.0));
            }
        }
        phrases.push(Span::new(f64::from(phrase), f64::from(phrase) + 1.0));
    }
    let found = edge(&thirds, &phrases).expect("a value");
    // Five bands over four: 10 lg (5/4) = 0.97 dB.
    assert_near(found.loud_db, 0.97 + 8.0 - 10.0, TOLERANCE_DB, "loud phrases");
    assert_near(found.growth_db, 8.0, TOLERANCE_DB, "growth");
    let few = edge(&thirds, &phrases[..7]);
    assert_eq!(few, Err(Unmeasured::TooFewEvents { have: 7, need: EDGE_NEEDS_PHRASES }), "few");
}

#[test]
fn what_has_no_tone_says_why() {
    let thirds = made(&[-300.0; 50], |_| 0.0);
    assert_eq!(tone(&thirds, &[]), Err(Unmeasured::NeverActive), "never active");
    let short = Unmeasured::TooLittleActive { have_s: 1.0, need_s: 3.0 };
    assert_eq!(tone(&thirds, &[Span::new(0.0, 1.0)]), Err(short), "too little");
    assert_eq!(tone(&thirds, &[Span::new(0.0, 9.0)]), Err(Unmeasured::Silent), "silent");
    let low = Tone { powers: vec![1.0; 24], counted_s: 9.0 };
    assert!(low.share_db(9).is_err(), "16 kHz can't hold the air");
    assert_eq!(low.thirds_db()[24], None, "nor its third-octaves");
}

#[test]
fn c_over_a_is_the_difference_of_the_weightings() {
    // IEC 61672-1:2013, table 3: A and C at a frequency; one band of energy has their difference.
    let table = Table::read("iec61672_weightings.csv");
    for (nominal_hz, band) in [(31.5, 1), (63.0, 4), (125.0, 7), (1000.0, 16), (4000.0, 22)] {
        let row = (0..table.len())
            .find(|&row| (table.number(row, "nominal_hz") - nominal_hz).abs() < 0.01)
            .expect("the table has the frequency");
        let expected = table.number(row, "C_dB") - table.number(row, "A_dB");
        let shape = |at: usize| if at == band { 0.0 } else { -300.0 };
        let all = [Span::new(0.0, 10.0)];
        let found = tone(&made(&[-20.0; 50], shape), &all).unwrap().c_minus_a_db().unwrap();
        assert_near(found, expected, 0.1, &format!("{nominal_hz} Hz"));
    }
}
