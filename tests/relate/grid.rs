//! Bins of third-octaves against the base-two series.

use deskside::relate::grid::{Grid, N_BANDS, bands_between, middle_hz};

#[test]
fn bands_stand_on_the_base_two_series_of_iec_61260_around_1_khz() {
    // IEC 61260-1, base-two option: 1 kHz times 2^(n/3).
    for (band, hz) in [(14, 1000.0), (17, 2000.0), (11, 500.0), (26, 16_000.0), (2, 62.5)] {
        assert!((middle_hz(band) - hz).abs() < 1e-9 * hz, "{band}: {}", middle_hz(band));
    }
    assert_eq!(bands_between(500.0, 2000.0), 11..18);
    assert!(bands_between(30_000.0, 40_000.0).is_empty());
}

#[test]
fn every_kept_bin_lies_in_its_band_at_every_rate() {
    for rate_hz in [32_000, 44_100, 48_000, 96_000, 192_000] {
        for grid in [Grid::short(rate_hz), Grid::middle(rate_hz), Grid::long(rate_hz)] {
            let bin_hz = f64::from(rate_hz) / grid.frame() as f64;
            let frame_s = grid.frame() as f64 / f64::from(rate_hz);
            assert!((0.05..1.0).contains(&frame_s), "{rate_hz}: frames of {frame_s} s");
            for band in 0..N_BANDS {
                for bin in grid.band(band) {
                    let hz = grid.bins()[bin] as f64 * bin_hz;
                    let octaves = (hz / middle_hz(band)).log2().abs();
                    assert!(octaves <= 1.0 / 6.0 + 1e-9, "{rate_hz}: {hz} Hz in band {band}");
                }
                assert!(grid.band(band).len() <= grid.n_in_band(band));
            }
            assert!(grid.bins().is_sorted(), "bins stand in order, none twice");
        }
    }
}

#[test]
fn long_frames_keep_more_bins_a_band_than_short_ones() {
    let kept = |grid: &Grid| (0..N_BANDS).map(|band| grid.band(band).len()).max();
    let [short, middle, long] = [Grid::short, Grid::middle, Grid::long].map(|grid| grid(48_000));
    assert_eq!([kept(&short), kept(&middle), kept(&long)], [Some(10), Some(16), Some(20)]);
    assert_eq!([short.frame(), middle.frame(), long.frame()], [4096, 16_384, 32_768]);
}
