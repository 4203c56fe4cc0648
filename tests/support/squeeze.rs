//! A compressor of the published feed-forward design with its detector in the log domain, and what it does with plain tones.
//!
//! After D. Giannoulis, M. Massberg, J. D. Reiss, JAES 60(6), 2012: equations 4 (curve), 16 (branching) and 17 (decoupled).

#![expect(clippy::cast_possible_truncation, reason = "signals are made in double precision")]

use std::f64::consts::TAU;

const RATE: f64 = 48_000.0;

/// Settings of a compressor.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Squeeze {
    pub(crate) threshold_dbfs: f64,
    pub(crate) ratio: f64,
    pub(crate) knee_db: f64,
    pub(crate) attack_s: f64,
    pub(crate) release_s: f64,
    /// Time constant of the mean square, or the size of samples.
    pub(crate) rms_s: Option<f64>,
    pub(crate) is_decoupled: bool,
}

impl Squeeze {
    /// Output level at a steady input level (equation 4).
    pub(crate) fn output_db(&self, x: f64) -> f64 {
        let (t, r, w) = (self.threshold_dbfs, self.ratio, self.knee_db);
        if 2.0 * (x - t) < -w {
            x
        } else if 2.0 * (x - t).abs() <= w && w > 0.0 {
            x + (1.0 / r - 1.0) * (x - t + w / 2.0).powi(2) / (2.0 * w)
        } else {
            t + (x - t) / r
        }
    }

    /// Gain reduction of every sample, in dB, for a side chain.
    pub(crate) fn reductions_db(&self, side_chain: &[f32]) -> Vec<f64> {
        let pole = |time_s: f64| (-1.0 / (time_s * RATE)).exp();
        let (attack, release) = (pole(self.attack_s), pole(self.release_s));
        let slow = self.rms_s.map(pole);
        let (mut mean, mut y1, mut yl) = (0.0, 0.0, 0.0);
        side_chain
            .iter()
            .map(|&x| {
                let square = f64::from(x).powi(2);
                mean = slow.map_or(square, |slow| slow * mean + (1.0 - slow) * square);
                let x_db = 10.0 * (mean + 1e-14).log10();
                let wanted = x_db - self.output_db(x_db);
                if self.is_decoupled {
                    y1 = f64::max(wanted, release * y1 + (1.0 - release) * wanted);
                    yl = attack * yl + (1.0 - attack) * y1;
                } else if wanted > yl {
                    yl = attack * yl + (1.0 - attack) * wanted;
                } else {
                    yl = release * yl + (1.0 - release) * wanted;
                }
                yl
            })
            .collect()
    }

    /// Level of a 1 kHz sine that is turned down by 1 dB in the mean.
    pub(crate) fn one_db_dbfs(&self) -> f64 {
        self.level_for(1.0)
    }

    /// Ratio between the levels that are turned down by 2 and by 6 dB.
    pub(crate) fn ratio_seen(&self) -> f64 {
        1.0 / (1.0 - 4.0 / (self.level_for(6.0) - self.level_for(2.0)))
    }

    fn level_for(&self, wanted_db: f64) -> f64 {
        let (mut low, mut high) = (self.threshold_dbfs - 30.0, self.threshold_dbfs + 60.0);
        for _ in 0..16 {
            let middle = 0.5 * (low + high);
            let sine = tone(72_000, |_| middle);
            let reductions = self.reductions_db(&sine);
            let mean = reductions[62_400..].iter().sum::<f64>() / 9_600.0;
            if mean < wanted_db { low = middle } else { high = middle }
        }
        0.5 * (low + high)
    }

    /// 63 % times of a step from 10 dB under the level of 1 dB to 10 dB over it, and back.
    pub(crate) fn times_s(&self) -> [f64; 2] {
        let level = self.one_db_dbfs();
        let sine =
            tone(240_000, |at| level + if (24_000..96_000).contains(&at) { 10.0 } else { -10.0 });
        let reductions = self.reductions_db(&sine);
        let mean = |at: usize| reductions[at - 48..at + 48].iter().sum::<f64>() / 96.0;
        let (low, high) = (mean(23_900), mean(95_900));
        let up = (24_000..95_900).find(|&at| mean(at) >= low + 0.632 * (high - low)).unwrap();
        let down = (96_000..239_900)
            .find(|&at| mean(at) <= high - 0.632 * (high - low))
            .unwrap_or(240_000);
        [(up - 24_000) as f64 / RATE, (down - 96_000) as f64 / RATE]
    }
}

fn tone(n: usize, level_dbfs: impl Fn(usize) -> f64) -> Vec<f32> {
    let at = |at: usize| {
        let amplitude = 2f64.sqrt() * 10f64.powf(level_dbfs(at) / 20.0);
        (amplitude * (TAU * 997.0 * at as f64 / RATE).sin()) as f32
    };
    (0..n).map(at).collect()
}
