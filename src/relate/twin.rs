//! # The same signal twice
//!
//! Which channels carry one signal, apart from gain and polarity.
//!
//! - **Formula:** residual of the best scaling at lag 0, `10 lg(1 - s12^2 / (s11 s22))`, with `s12 = sum(x1 x2)` over 64 of
//!   every 512 samples
//! - **Unit:** dB re own power
//! - **Range:** -120 (identical) to 0 (unrelated)
//! - **Source:** least squares; one eighth of the samples tells a twin from a neighbour as well as all do, since a residual of
//!   -20 dB needs a correlation of 0.995
//! - **Window:** whole recording
//! - **No value:** a silent channel; pairs above -20 dB are not told
//! - **Misleads when:** two microphones hear one source within a few centimetres and below a few hundred hertz only

use rayon::prelude::*;

/// Samples that count and samples from one run to the next.
const RUN: usize = 64;
const EVERY: usize = 512;

/// Residual from which on two channels are no twins, in dB.
const TWIN_DB: f64 = -20.0;

/// Power below which a channel is silent: -100 dBFS.
const SILENT: f64 = 1e-10;

/// Residuals below this differ by rounding only, in dB.
const LOWEST_DB: f64 = -120.0;

/// Two channels that carry one signal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Twin {
    /// The earlier channel.
    pub first: usize,
    /// The later channel.
    pub second: usize,
    /// Residual, in dB.
    pub residual_db: f64,
    /// 1 or -1.
    pub polarity: f64,
}

/// Looks for twins among all channels. Its memory is fixed: a number a pair.
#[derive(Clone, Debug)]
pub struct TwinMeter {
    n_channels: usize,
    /// Row `i` holds the products of channel `i` with itself and all later ones.
    products: Vec<Vec<f64>>,
    n_samples: u64,
    n_counted: u64,
}

impl TwinMeter {
    /// A meter for so many channels.
    pub fn new(n_channels: usize) -> Self {
        let products = (0..n_channels).map(|first| vec![0.0; n_channels - first]).collect();
        Self { n_channels, products, n_samples: 0, n_counted: 0 }
    }

    /// Takes the next samples of all channels.
    ///
    /// # Panics
    ///
    /// If the number of channels changes or they differ in length.
    pub fn push(&mut self, planes: &[&[f32]]) {
        assert_eq!(planes.len(), self.n_channels, "the channels stay the same");
        let n_samples = planes.first().map_or(0, |plane| plane.len());
        assert!(planes.iter().all(|plane| plane.len() == n_samples), "the planes are equally long");
        let runs = self.runs(n_samples);
        self.products.par_iter_mut().enumerate().for_each(|(first, row)| {
            for (product, second) in row.iter_mut().zip(&planes[first..]) {
                for run in &runs {
                    let pairs = planes[first][run.clone()].iter().zip(&second[run.clone()]);
                    *product += f64::from(pairs.map(|(a, b)| a * b).sum::<f32>());
                }
            }
        });
        self.n_counted += runs.iter().map(|run| run.len() as u64).sum::<u64>();
        self.n_samples += n_samples as u64;
    }

    /// The stretches of the next `n_samples` that count.
    #[expect(clippy::cast_possible_truncation, reason = "a place within 512 samples")]
    fn runs(&self, n_samples: usize) -> Vec<std::ops::Range<usize>> {
        let place = (self.n_samples % EVERY as u64) as usize;
        (0..=n_samples.div_ceil(EVERY))
            .filter_map(|run| {
                let start = (run * EVERY).saturating_sub(place).min(n_samples);
                let end = (run * EVERY + RUN).saturating_sub(place).min(n_samples);
                (start < end).then_some(start..end)
            })
            .collect()
    }

    /// All pairs that carry one signal, by channel.
    #[expect(clippy::cast_precision_loss, reason = "a count of samples is far below 2^52")]
    pub fn finish(self) -> Vec<Twin> {
        let silent = SILENT * self.n_counted as f64;
        let power = |channel: usize| self.products[channel][0];
        let mut twins = Vec::new();
        for first in 0..self.n_channels {
            for second in first + 1..self.n_channels {
                if power(first) <= silent || power(second) <= silent {
                    continue;
                }
                let product = self.products[first][second - first];
                let rest = 1.0 - product * product / (power(first) * power(second));
                let residual_db = 10.0 * rest.max(1e-12).log10();
                if residual_db < TWIN_DB {
                    twins.push(Twin {
                        first,
                        second,
                        residual_db: residual_db.max(LOWEST_DB),
                        polarity: product.signum(),
                    });
                }
            }
        }
        twins
    }
}
