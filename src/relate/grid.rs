//! Which bins of a spectrum are looked at: a few of each third-octave, evenly spread.
//!
//! Takes a sample rate, gives a frame length, a hop and bins grouped by bands. All rates share the bands, so that grids of
//! different length can be compared band by band.

use std::ops::Range;

/// Third-octaves, base 2: 40 Hz to 16 kHz.
pub const N_BANDS: usize = 27;

/// How far the lowest band lies under 1 kHz, in third-octaves.
const LOWEST: f64 = 14.0;

/// Rate for which the frame lengths are stated, in Hz.
const BASE_HZ: f64 = 48_000.0;

/// Share of the rate above which recorders filter: those bins say nothing.
const HIGHEST_SHARE: f64 = 0.47;

/// Middle of a band, in Hz.
#[expect(clippy::cast_precision_loss, reason = "bands are few")]
pub fn middle_hz(band: usize) -> f64 {
    1000.0 * 2f64.powf((band as f64 - LOWEST) / 3.0)
}

/// Bands whose middle lies in a range, in Hz.
pub fn bands_between(low_hz: f64, high_hz: f64) -> Range<usize> {
    let first = (0..N_BANDS).find(|&band| middle_hz(band) >= low_hz).unwrap_or(N_BANDS);
    let end = (0..N_BANDS).rfind(|&band| middle_hz(band) <= high_hz).map_or(first, |band| band + 1);
    first..end.max(first)
}

/// Frames and the bins that are kept of their spectra.
#[derive(Clone, Debug, PartialEq)]
pub struct Grid {
    rate_hz: u32,
    frame: usize,
    hop: usize,
    bins: Vec<usize>,
    bands: Vec<Range<usize>>,
    n_in_band: Vec<usize>,
}

impl Grid {
    /// Frames of 85 ms, every 43 ms, ten bins a band: follows notes and words.
    pub fn short(rate_hz: u32) -> Self {
        Self::new(rate_hz, 4096, 2, 10)
    }

    /// Frames of 341 ms, every 171 ms, sixteen bins a band: a check of the long ones.
    pub fn middle(rate_hz: u32) -> Self {
        Self::new(rate_hz, 16_384, 2, 16)
    }

    /// Frames of 683 ms, every 171 ms, twenty bins a band: hold what a hall does to a sound.
    pub fn long(rate_hz: u32) -> Self {
        Self::new(rate_hz, 32_768, 4, 20)
    }

    /// Frames near `base_frame` samples at 48 kHz, `overlap` of them over each sample.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss,
        reason = "frame lengths and bins are small positive numbers"
    )]
    fn new(rate_hz: u32, base_frame: usize, overlap: usize, per_band: usize) -> Self {
        let wanted = base_frame as f64 * f64::from(rate_hz) / BASE_HZ;
        let frame = 1usize << (wanted.log2().round() as u32);
        let bin_hz = f64::from(rate_hz) / frame as f64;
        let (mut bins, mut bands, mut n_in_band) = (Vec::new(), Vec::new(), Vec::new());
        for band in 0..N_BANDS {
            let edge = |sixths: f64| middle_hz(band) * 2f64.powf(sixths / 6.0) / bin_hz;
            let first = edge(-1.0).ceil() as usize;
            let end =
                (edge(1.0).ceil() as usize).min((HIGHEST_SHARE * frame as f64) as usize).max(first);
            let n_all = end - first;
            let n_kept = n_all.min(per_band);
            let start = bins.len();
            // The middles of equal parts: no edge is preferred.
            bins.extend((0..n_kept).map(|idx| first + (2 * idx + 1) * n_all / (2 * n_kept)));
            bands.push(start..bins.len());
            n_in_band.push(n_all);
        }
        Self { rate_hz, frame, hop: frame / overlap, bins, bands, n_in_band }
    }

    /// Sample rate, in Hz.
    pub fn rate_hz(&self) -> u32 {
        self.rate_hz
    }

    /// Samples in a frame.
    pub fn frame(&self) -> usize {
        self.frame
    }

    /// Samples from a frame to the next.
    pub fn hop(&self) -> usize {
        self.hop
    }

    /// From a frame to the next, in seconds.
    #[expect(clippy::cast_precision_loss, reason = "a hop is a small number")]
    pub fn hop_s(&self) -> f64 {
        self.hop as f64 / f64::from(self.rate_hz)
    }

    /// The kept bins of the spectrum, in order.
    pub fn bins(&self) -> &[usize] {
        &self.bins
    }

    /// Which of the kept bins lie in a band; none where the frame is too short for it or the rate too low.
    pub fn band(&self, band: usize) -> Range<usize> {
        self.bands[band].clone()
    }

    /// How many bins of the whole spectrum lie in a band.
    pub fn n_in_band(&self, band: usize) -> usize {
        self.n_in_band[band]
    }
}
