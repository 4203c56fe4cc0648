//! # Twin channels
//!
//! Pairs of channels that carry the same signal.
//!
//! - **Formula:** residual of one channel after the best scaling of the other at lag 0, without their means:
//!   `10 log10(1 - c²)`, where `c` is their correlation, over 64 of every 1024 samples
//! - **Unit:** dB re the channel's own power
//! - **Range:** -100 dB (the same samples; lower reads as this) to 0 dB
//! - **Source:** definition; common practice for the borders of rules
//! - **Window:** whole recording, thinned
//! - **No value:** a channel below -70 dBFS on average takes no part; a recording under 1 s has no pairs
//! - **Misleads when:** both sides of a stereo pair carry a mono source, which is no fault of patching

use crate::dsp::dot::dot;

/// Samples in a run (whole rows of eight), and from the begin of one run to the next.
const RUN: usize = 64;
const EVERY: usize = 1024;

/// Fewest runs: 1 s at 48 kHz.
const FEWEST_RUNS: u64 = 47;

/// Channels with a lower mean square take no part: -70 dBFS.
const SILENT: f64 = 1e-7;

/// Pairs are reported below this residual.
const REPORT_DB: f64 = -20.0;

/// The least residual that single precision can tell.
const FLOOR_DB: f64 = -100.0;

/// Two channels that carry the same signal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Twin {
    /// The channel that comes first.
    pub first: usize,
    /// The other one.
    pub second: usize,
    /// What remains of one after the best scaling of the other.
    pub residual_db: f64,
    /// 1, or -1 if one is inverted.
    pub polarity: f64,
}

/// Gathers products of all pairs of channels.
#[derive(Clone, Debug)]
pub struct TwinMeter {
    n_channels: usize,
    n_seen: usize,
    n_runs: u64,
    /// The run that fills, one a channel.
    runs: Vec<Vec<f32>>,
    sums: Vec<f64>,
    /// Products of channels i <= j, row by row.
    products: Vec<f64>,
}

impl TwinMeter {
    /// A meter for all channels of a session at once.
    pub fn new(n_channels: usize) -> Self {
        Self {
            n_channels,
            n_seen: 0,
            n_runs: 0,
            runs: vec![Vec::with_capacity(RUN); n_channels],
            sums: vec![0.0; n_channels],
            products: vec![0.0; n_channels * (n_channels + 1) / 2],
        }
    }

    /// Takes a block of all channels, at one rate.
    ///
    /// # Panics
    ///
    /// If there is not one plane for each channel, or if they differ in length.
    pub fn push(&mut self, planes: &[&[f32]]) {
        assert_eq!(planes.len(), self.n_channels, "one plane for each channel");
        let len = planes.first().map_or(0, |plane| plane.len());
        assert!(planes.iter().all(|plane| plane.len() == len), "planes are equally long");
        let mut from = 0;
        while from < len {
            let place = self.n_seen % EVERY;
            let rest = len - from;
            let n_next = if place < RUN { RUN - place } else { EVERY - place }.min(rest);
            if place < RUN {
                for (run, plane) in self.runs.iter_mut().zip(planes) {
                    run.extend_from_slice(&plane[from..from + n_next]);
                }
                if place + n_next == RUN {
                    self.close();
                }
            }
            self.n_seen += n_next;
            from += n_next;
        }
    }

    fn close(&mut self) {
        let mut products = self.products.iter_mut();
        for (idx, run) in self.runs.iter().enumerate() {
            self.sums[idx] += run.iter().map(|&x| f64::from(x)).sum::<f64>();
            for (other, product) in self.runs[idx..].iter().zip(&mut products) {
                *product += f64::from(dot(run, other));
            }
        }
        self.n_runs += 1;
        self.runs.iter_mut().for_each(Vec::clear);
    }

    /// The pairs with a residual under -20 dB, in order of their channels.
    #[expect(clippy::cast_precision_loss, reason = "counts of samples are below 2^52")]
    pub fn finish(self) -> Vec<Twin> {
        if self.n_runs < FEWEST_RUNS {
            return Vec::new();
        }
        let n_samples = (self.n_runs * RUN as u64) as f64;
        let n = self.n_channels;
        let covariance = |i: usize, j: usize| {
            // Row i begins behind the rows of n, n - 1 .. n - i + 1 products.
            let place = i * n - i * i.saturating_sub(1) / 2 + (j - i);
            let mean = |idx: usize| self.sums[idx] / n_samples;
            self.products[place] / n_samples - mean(i) * mean(j)
        };
        let mut twins = Vec::new();
        for i in 0..n {
            for j in i + 1..n {
                let (own, other, both) = (covariance(i, i), covariance(j, j), covariance(i, j));
                if own < SILENT || other < SILENT {
                    continue;
                }
                let rest = 1.0 - both * both / (own * other);
                let residual_db = (10.0 * rest.max(1e-30).log10()).max(FLOOR_DB);
                if residual_db < REPORT_DB {
                    twins.push(Twin { first: i, second: j, residual_db, polarity: both.signum() });
                }
            }
        }
        twins
    }
}
