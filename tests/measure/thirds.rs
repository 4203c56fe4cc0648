//! Tests of `measure::thirds`: every band against class 1 of IEC 61260-1:2014, by steady sines through the whole meter.

#![expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "lengths are small")]

use deskside::dsp::thirds::{N_BANDS, mid_hz};
use deskside::measure::{Thirds, ThirdsMeter};

use crate::support::feeding::{assert_near, measure_whole};
use crate::support::reference::Table;
use crate::support::signals::{noise, programme, scaled, sine};

/// Steps at the end of a tone that are looked at; what comes before settles.
const N_LAST: usize = 5;

/// Filters in single precision, their settling, and a trace that is rounded to 0.0025 dB.
const LEVEL_TOLERANCE_DB: f64 = 0.05;

fn measure(rate_hz: u32, planes: &[&[f32]]) -> Vec<Thirds> {
    measure_whole(rate_hz, planes, ThirdsMeter::new, ThirdsMeter::push, ThirdsMeter::finish)
}

/// Level of a band at the end, in dB.
fn level_db(thirds: &Thirds, band: usize) -> f64 {
    let trace = &thirds.bands[band];
    10.0 * trace.mean_power(trace.len() - N_LAST, trace.len()).max(1e-20).log10()
}

/// Levels of a band for steady full-scale sines, re a full-scale sine.
fn responses_db(rate_hz: u32, band: usize, frequencies_hz: &[f64]) -> Vec<f64> {
    // The lowest bands are 6 Hz wide: 70 dB of decay take more than a second.
    let length_s = if mid_hz(band) < 200.0 { 4.0 } else { 2.0 };
    let n_samples = (length_s * f64::from(rate_hz)) as usize;
    let mut levels = Vec::new();
    for eight in frequencies_hz.chunks(8) {
        let tones =
            eight.iter().map(|&frequency_hz| sine(rate_hz, frequency_hz, 1.0, 20.0, n_samples));
        let tones: Vec<Vec<f32>> = tones.collect();
        let planes: Vec<&[f32]> = tones.iter().map(Vec::as_slice).collect();
        let mut meter = ThirdsMeter::new(rate_hz, planes.len());
        meter.push(deskside::dsp::Group::new(&planes, rate_hz));
        levels.extend(meter.finish().iter().map(|thirds| level_db(thirds, band) + 3.010_3));
    }
    levels
}

/// The class 1 limits of the attenuation re mid-band at a frequency ratio above 1: the printed points, and between them
/// straight lines over the logarithm of frequency (formula 11).
struct Mask {
    points: Vec<(f64, f64, f64)>,
}

impl Mask {
    fn read() -> Self {
        let table = Table::read("iec61260_class_masks.csv");
        let number = |row, column| table.number(row, column);
        let point = |row| {
            let ratio = number(row, "omega_third_octave");
            (ratio, number(row, "class1_min_dB"), number(row, "class1_max_dB"))
        };
        Self { points: (0..table.len()).map(point).collect() }
    }

    fn limits_db(&self, ratio: f64) -> [f64; 2] {
        let last = self.points[self.points.len() - 1];
        if ratio >= last.0 {
            return [last.1, f64::INFINITY];
        }
        let above = self.points.iter().position(|point| point.0 > ratio + 1e-9).expect("a point");
        let (low, high) = (self.points[above - 1], self.points[above]);
        let share = (ratio / low.0).ln() / (high.0 / low.0).ln();
        let most = if low.2.is_finite() { low.2 + share * (high.2 - low.2) } else { f64::INFINITY };
        [low.1 + share * (high.1 - low.1), most]
    }
}

fn check_mask(rate_hz: u32, bands: impl Iterator<Item = usize>) {
    let mask = Mask::read();
    // The printed points, places between them, and a little to either side of the edge, where the limits jump.
    let ratios = [
        1.0, 1.013, 1.026_67, 1.055_75, 1.087_46, 1.105, 1.121, 1.123, 1.2, 1.294_4, 1.55, 1.881_8,
        2.4, 3.053_7, 4.0, 5.392, 9.0, 20.0,
    ];
    for band in bands {
        let mid = mid_hz(band);
        let both = ratios.iter().flat_map(|&ratio| [(ratio, mid * ratio), (ratio, mid / ratio)]);
        let asked = both.filter(|&(_, at_hz)| at_hz < 0.495 * f64::from(rate_hz) && at_hz > 1.0);
        let asked: Vec<(f64, f64)> = asked.collect();
        let frequencies: Vec<f64> = asked.iter().map(|&(_, at_hz)| at_hz).collect();
        let levels = responses_db(rate_hz, band, &frequencies);
        assert_near(levels[0], 0.0, LEVEL_TOLERANCE_DB, "level at mid-band");
        for (&(ratio, at_hz), level_db) in asked.iter().zip(&levels) {
            let (attenuation_db, [least, most]) = (levels[0] - level_db, mask.limits_db(ratio));
            assert!(
                least <= attenuation_db && attenuation_db <= most,
                "{rate_hz} Hz, band {mid:.1} Hz at {at_hz:.1} Hz: {attenuation_db} dB, lawful {least} to {most}"
            );
        }
    }
}

#[test]
fn every_band_keeps_class_1_of_iec_61260_at_48_khz() {
    check_mask(48_000, 0..N_BANDS);
}

#[test]
fn every_band_keeps_class_1_of_iec_61260_at_44_1_khz() {
    check_mask(44_100, 0..N_BANDS);
}

#[test]
fn the_highest_and_lowest_bands_keep_class_1_at_high_rates() {
    check_mask(96_000, [0, 1, 27, 28].into_iter());
    check_mask(192_000, [0, 28].into_iter());
}

#[test]
fn what_folds_at_a_halving_stays_out_of_the_low_bands() {
    for (rate_hz, band) in [(48_000, 0), (44_100, 1), (48_000, 5), (44_100, 14), (48_000, 20)] {
        // Frequencies that land on mid-band after some halving: multiples of each lower rate, above and below.
        let half_hz = f64::from(rate_hz) / 2.0;
        let rates = (1..10).map(|halving| f64::from(rate_hz) / f64::from(1 << halving));
        let folded = rates.flat_map(|lower_hz| [lower_hz - mid_hz(band), lower_hz + mid_hz(band)]);
        let folded: Vec<f64> =
            folded.filter(|&at_hz| at_hz > 5.4 * mid_hz(band) && at_hz < half_hz).collect();
        for (level_db, at_hz) in responses_db(rate_hz, band, &folded).iter().zip(&folded) {
            // Class 1 beyond 5.39 times mid-band.
            assert!(*level_db < -70.0, "{at_hz} Hz reads {level_db} dB in band {band}");
        }
    }
}

#[test]
fn a_tone_stands_in_its_step_in_high_and_low_bands_alike() {
    // 1 s of silence, 2 s of tone, 1 s of silence: half power lies within a step of the borders after the delay is taken out.
    for band in [4, 10, 16, 28] {
        let mut plane = vec![0.0; 48_000];
        plane.extend(sine(48_000, mid_hz(band), 0.5, 0.0, 96_000));
        plane.extend(vec![0.0; 48_000]);
        let trace = &measure(48_000, &[&plane])[0].bands[band];
        assert_eq!(trace.len(), 20, "steps of 0.2 s");
        let steady = trace.level_db(10);
        for step in 0..20 {
            let level_db = trace.level_db(step);
            let inside = (6..14).contains(&step);
            let outside = !(5..=16).contains(&step);
            assert!(!inside || level_db > steady - 3.0, "band {band}, step {step}: {level_db} dB");
            assert!(!outside || level_db < steady - 6.0, "band {band}, step {step}: {level_db} dB");
        }
    }
}

#[test]
fn bands_of_white_noise_grow_by_1_db_each() {
    // Equal density: a band holds as much as its width, 10 lg 10^0.1. 60 s at 22 Hz width: standard deviation 0.12 dB.
    let plane = noise(1, 0.1, 60 * 48_000);
    let thirds = &measure(48_000, &[&plane])[0];
    let level_db = |band: usize| {
        let trace = &thirds.bands[band];
        10.0 * trace.mean_power(5, trace.len()).log10()
    };
    for band in 6..N_BANDS {
        // Density 0.01 / 24 kHz; width f (10^0.05 - 10^-0.05). An eighth-order band is 2.6 % wider: pi/8 / sin(pi/8).
        let width_hz = mid_hz(band) * (10f64.powf(0.05) - 10f64.powf(-0.05)) * 1.026;
        let expected = 10.0 * (0.01 * width_hz / 24_000.0).log10();
        assert_near(level_db(band), expected, 0.5, "level of noise");
    }
}

#[test]
fn uneven_blocks_gain_and_polarity_change_nothing_they_should_not() {
    let plane = programme(3, 44_100, 3.0);
    let results =
        measure(44_100, &[&plane, &scaled(&plane, 2.0), &scaled(&plane, -1.0), &[0.0; 132_300]]);
    assert_eq!(results[0], results[2], "polarity does not matter");
    for (one, double) in results[0].bands.iter().zip(&results[1].bands) {
        // In pauses single precision runs out before the trace does.
        for step in (0..one.len()).filter(|&step| one.level_db(step) > -120.0) {
            // Two roundings to 0.005 dB.
            assert_near(double.level_db(step) - one.level_db(step), 6.020_6, 0.005_1, "gain");
        }
    }
    let silent = results[3].bands.iter().flat_map(|band| band.powers());
    assert!(silent.into_iter().all(|power| power <= 0.0), "silence is silence");
}

#[test]
fn joined_bands_hold_the_power_of_each() {
    let thirds = &measure(48_000, &[&noise(2, 0.1, 96_000)])[0];
    let sum = thirds.joined(10..N_BANDS + 9);
    for step in 0..sum.len() {
        let expected: f64 = thirds.bands[10..].iter().map(|band| band.power(step)).sum();
        assert_near(10.0 * (sum.power(step) / expected).log10(), 0.0, 0.002_6, "sum of bands");
    }
    // White noise of 0.1 up to 24 kHz: all but 1 % of it lies above the band at 224 Hz, 74 % below 17.8 kHz.
    let share_db = 10.0 * (sum.mean_power(1, sum.len()) / 0.01).log10();
    assert_near(share_db, 10.0 * 0.732f64.log10(), 0.15, "share of the noise");
}

#[test]
fn a_low_rate_has_fewer_bands_and_a_tiny_one_none() {
    assert_eq!(measure(16_000, &[&noise(1, 0.1, 16_000)])[0].bands.len(), 24, "up to 5 kHz");
    assert_eq!(measure(60, &[&noise(1, 0.1, 600)])[0].bands.len(), 0, "none");
}
