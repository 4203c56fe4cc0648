//! # Lags between two recorders
//!
//! How much later a sound stands in a channel of one recorder than in one of another, stretch by stretch.
//!
//! - **Formula:** phase transform between 100 Hz and 8 kHz, in frames of 32,768 samples at 48 kHz (0.68 s, Hann, half overlapping), summed over a
//!   stretch; up to three of its highest peaks in size within 0.15 s, each with its height re the root mean square of all lags
//! - **Unit:** s, positive: later in the second; a ratio
//! - **Source:** C. H. Knapp, G. C. Carter, "The generalized correlation method for estimation of time delay", IEEE Trans. ASSP 24(4), 1976; band,
//!   frame and the height of 8 by own trials: noise that shares nothing never reached it
//! - **Window:** stretches of some seconds
//! - **No value:** no peak is 8 times as high as all lags are on the whole
//! - **Misleads when:** a source moves within a stretch; the next channel's way is found instead of the straight one

use std::ops::Range;

use rayon::prelude::*;
use realfft::num_complex::{Complex, Complex64};

use super::arrival::{bins_within, direction_of, hop};
use super::lag::Correlator;
use super::taper::{Taper, Workspace};
use crate::dsp::Frames;

/// Frames re the hop of arrivals: 0.68 s, so that 0.15 s of lag leave most of a frame in common.
const HOPS_PER_FRAME: usize = 16;

/// Band in which phases count, in Hz: rooms and spill carry little above.
const BAND_HZ: [f64; 2] = [100.0, 8_000.0];

/// The correlation is looked at in steps of two samples, twice as fine as the band needs: the correlator works four times as fine as the rate
/// that it is told.
const COARSER: usize = 8;

/// Farthest lag, in seconds.
pub const FAR_S: f64 = 0.15;

/// Peaks of a pair in a stretch, the least time between two of them, in seconds, and their least height.
const MOST_PEAKS: usize = 3;
const APART_S: f64 = 0.001;
const NEEDS_HEIGHT: f64 = 8.0;

/// A lag at which a pair shares sound.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sighting {
    /// Place among the references, and among the channels that are looked at.
    pub reference: usize,
    /// See above.
    pub channel: usize,
    /// Middle of the stretch, in seconds of the session.
    pub at_s: f64,
    /// How much later the sound is in the channel, in seconds.
    pub lag_s: f64,
    /// Height of the peak re the root mean square of all lags.
    pub height: f64,
}

/// Measures lags of each reference against each channel. It keeps 0.3 MB a pair and 0.6 MB a channel.
pub struct SharedLagMeter {
    rate_hz: f64,
    taper: Taper,
    correlator: Correlator,
    bins: Range<usize>,
    n_references: usize,
    channels: Vec<Channel>,
    /// Of each reference, of each channel.
    sums: Vec<Vec<Complex64>>,
    n_samples: usize,
}

struct Channel {
    frames: Frames,
    /// Directions of the frames that are full: spectra whose every bin has length 1, or 0.
    directions: Vec<Complex<f32>>,
    workspace: Workspace,
}

impl SharedLagMeter {
    /// A meter for some references and channels beside them.
    pub fn new(rate_hz: u32, n_references: usize, n_channels: usize) -> Self {
        let frame = HOPS_PER_FRAME * hop(rate_hz);
        let rate = f64::from(rate_hz);
        let band = bins_within(BAND_HZ, rate, frame);
        // The correlator holds bins below a quarter of the rate.
        let bins = band.start..band.end.min(frame / 4);
        let channel = || Channel {
            frames: Frames::new(frame / 2, frame / 2),
            directions: Vec::new(),
            workspace: Workspace::default(),
        };
        #[expect(clippy::cast_precision_loss, reason = "a small number")]
        let correlator = Correlator::new(rate / COARSER as f64, frame / COARSER);
        Self {
            rate_hz: rate,
            taper: Taper::new(frame),
            correlator,
            n_references,
            channels: (0..n_references + n_channels).map(|_| channel()).collect(),
            sums: vec![vec![Complex64::default(); bins.len()]; n_references * n_channels],
            bins,
            n_samples: 0,
        }
    }

    /// The next samples of the references and, behind them, of the channels.
    ///
    /// # Panics
    ///
    /// If there is not one plane for each.
    pub fn push(&mut self, planes: &[&[f32]]) {
        assert_eq!(planes.len(), self.channels.len(), "one plane for each channel");
        let Self { taper, channels, bins, sums, n_references, .. } = self;
        self.n_samples += planes.first().map_or(0, |plane| plane.len());
        channels.par_iter_mut().zip(planes).for_each(|(channel, plane)| {
            let Channel { frames, directions, workspace } = channel;
            directions.clear();
            frames.push(plane, |_, frame| {
                let spectrum = taper.spectrum(frame, workspace);
                directions.extend(spectrum[bins.clone()].iter().map(|&value| direction_of(value)));
            });
        });
        let (references, channels) = channels.split_at(*n_references);
        let n_channels = channels.len().max(1);
        sums.par_iter_mut().enumerate().for_each(|(pair, sum)| {
            let first = &references[pair / n_channels].directions;
            let second = &channels[pair % n_channels].directions;
            let n_bins = sum.len();
            for (first, second) in first.chunks_exact(n_bins).zip(second.chunks_exact(n_bins)) {
                for ((sum, first), second) in sum.iter_mut().zip(first).zip(second) {
                    let turn = second * first.conj();
                    *sum += Complex64::new(f64::from(turn.re), f64::from(turn.im));
                }
            }
        });
    }

    /// Ends a stretch that began at a time of the session: the lags that stand out in it.
    #[expect(clippy::cast_precision_loss, reason = "a count of samples is far below 2^52")]
    pub fn end(&mut self, start_s: f64) -> Vec<Sighting> {
        let at_s = start_s + 0.5 * self.n_samples as f64 / self.rate_hz;
        let n_channels = (self.channels.len() - self.n_references).max(1);
        let Self { sums, correlator, bins, .. } = &*self;
        let of_pair = |(pair, sum): (usize, &Vec<Complex64>)| {
            let lags = correlator.lags(bins.clone(), |bin| sum[bin - bins.start]);
            let rms = lags.rms(FAR_S);
            let peaks = lags.peaks(FAR_S, APART_S, MOST_PEAKS).into_iter();
            peaks
                .map(|peak| Sighting {
                    reference: pair / n_channels,
                    channel: pair % n_channels,
                    at_s,
                    lag_s: peak.at_s,
                    height: if rms > 0.0 { peak.value.abs() / rms } else { 0.0 },
                })
                .filter(|one| one.height >= NEEDS_HEIGHT)
                .collect::<Vec<_>>()
        };
        let found = sums.par_iter().enumerate().flat_map_iter(of_pair).collect();
        self.begin();
        found
    }

    /// Nothing of a stretch belongs to the next.
    fn begin(&mut self) {
        self.n_samples = 0;
        self.sums.iter_mut().for_each(|sum| sum.fill(Complex64::default()));
        let half = self.taper.length() / 2;
        self.channels.iter_mut().for_each(|channel| channel.frames = Frames::new(half, half));
    }
}
