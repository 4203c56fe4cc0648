//! Tests of the geometry of `dsp::thirds`; the bands themselves are tested by sines in `measure::thirds`.

use deskside::dsp::lanes::Isa;
use deskside::dsp::thirds::{Bank, N_BANDS, NOMINAL_HZ, band_at, edges_hz, mid_hz, n_bands};

use crate::support::feeding::assert_near;
use crate::support::reference::Table;

/// Digits of the table.
const TOLERANCE: f64 = 1e-9;

#[test]
fn bands_are_those_of_iec_61260() {
    let table = Table::read("iec61260_third_octave_midbands.csv");
    for (band, nominal_hz) in NOMINAL_HZ.into_iter().enumerate() {
        // The table begins at 20 Hz.
        let row = band + 1;
        let [low_hz, high_hz] = edges_hz(band);
        for (column, found) in [
            ("nominal_hz", nominal_hz),
            ("exact_mid_hz", mid_hz(band)),
            ("lower_edge_hz", low_hz),
            ("upper_edge_hz", high_hz),
        ] {
            let expected = table.number(row, column);
            assert_near(found / expected, 1.0, TOLERANCE, column);
        }
    }
}

#[test]
fn usual_rates_hold_all_bands_and_low_rates_fewer() {
    for rate_hz in [44_100, 48_000, 88_200, 96_000, 176_400, 192_000] {
        assert_eq!(n_bands(rate_hz), N_BANDS, "{rate_hz} Hz");
    }
    // 0.415 x 16 kHz = 6640 Hz: 5 kHz ends at 5623 Hz, 6.3 kHz at 7079 Hz.
    assert_eq!(n_bands(16_000), 24, "up to 5 kHz");
    assert_eq!(n_bands(60), 0, "none");
}

#[test]
fn chunks_divide_down_to_the_lowest_octave() {
    for rate_hz in [44_100, 48_000, 96_000, 192_000] {
        let bank = Bank::new(Isa::best(), rate_hz);
        // The lowest band ends at 28.18 Hz = 0.415 x 67.9 Hz, so the lowest rate is below 135.8 Hz.
        let slowest = bank.chunk_len() as f64 / f64::from(rate_hz) * 135.8;
        assert!(slowest >= 1.0, "{rate_hz} Hz: a chunk of {} frames", bank.chunk_len());
        assert!(bank.chunk_len().is_power_of_two(), "halves evenly");
    }
}

#[test]
fn a_frequency_lies_in_the_band_of_its_name() {
    for (band, nominal_hz) in NOMINAL_HZ.into_iter().enumerate() {
        assert_eq!(band_at(nominal_hz), Some(band), "{nominal_hz} Hz");
    }
    assert_eq!((band_at(22.0), band_at(17_800.0)), (None, None), "outside");
}
