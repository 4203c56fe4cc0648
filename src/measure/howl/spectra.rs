//! Spectra of short windows and the lines that stand out of them.
//!
//! Takes samples of one channel, gives the strongest narrow peaks with frequency, level and what surrounds them. Never
//! keeps anything from one window to the next.

use std::f64::consts::TAU;

use crate::dsp::PowerSpectrum;
use crate::dsp::lanes::{Isa, LANES, mark_tops};

/// Frequencies that lines are looked for at, in Hz: below lie bass and hum, above no howl carries.
pub(super) const RANGE_HZ: [f64; 2] = [80.0, 7600.0];

/// Lines kept of a window: the strongest.
const MOST_LINES: usize = 25;

/// Lines below this are not kept, in power: -75 dBFS.
const LEAST_POWER: f32 = 3.2e-8;

/// A line stands over the mean of its surroundings by this: 12 dB.
const STANDS_OUT: f32 = 16.0;

/// Surroundings of a line on either side, in Hz.
const BESIDE_HZ: [f64; 2] = [45.0, 120.0];

/// Multiples of a line at which an overtone or an undertone would lie: those of both, and those of notes below.
const OVER: [f64; 2] = [2.0, 3.0];
const UNDER: [f64; 4] = [0.5, 1.0 / 3.0, 2.0 / 3.0, 1.5];

/// Level of nothing, in dB.
pub(super) const NOTHING_DB: f32 = -120.0;

/// A line in one window. Levels are those of a sine's peak.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Line {
    /// Frequency, in Hz.
    pub(super) hz: f32,
    /// Level.
    pub(super) dbfs: f32,
    /// How far it stands over what lies 45 to 120 Hz away.
    pub(super) beside_db: f32,
    /// How far it stands over the mean of all bins.
    pub(super) mean_db: f32,
    /// Highest level at two or three times its frequency, re the line.
    pub(super) over_db: f32,
    /// Highest level at a half, a third, two thirds and one and a half of it, re the line.
    pub(super) under_db: f32,
}

/// Transforms windows of one length.
#[derive(Clone)]
pub(super) struct Spectra {
    isa: Isa,
    bin_hz: f64,
    spectrum: PowerSpectrum,
    marks: Vec<u8>,
    tops: Vec<(usize, f32)>,
}

impl Spectra {
    /// For windows of `length` samples with a taper of cosines: `weights` are those of the terms, alternating in sign.
    #[expect(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        reason = "some thousands of samples"
    )]
    pub(super) fn new(rate_hz: f64, length: usize, weights: &[f64]) -> Self {
        let taper = |n: usize| {
            let turn = TAU * (n as f64 + 0.5) / length as f64;
            let terms = weights.iter().zip(0u8..);
            terms
                .map(|(weight, k)| {
                    weight * (std::f64::consts::PI * f64::from(k) + turn * f64::from(k)).cos()
                })
                .sum::<f64>()
        };
        let shape: Vec<f64> = (0..length).map(taper).collect();
        // A sine of amplitude 1 gives 1.
        let scale = 2.0 / shape.iter().sum::<f64>();
        let shape: Vec<f32> = shape.iter().map(|weight| (scale * weight) as f32).collect();
        Self {
            isa: Isa::best(),
            bin_hz: rate_hz / length as f64,
            spectrum: PowerSpectrum::new(&shape),
            marks: Vec::new(),
            tops: Vec::new(),
        }
    }

    /// From bin to bin, in Hz.
    pub(super) fn bin_hz(&self) -> f64 {
        self.bin_hz
    }

    /// Samples in a window.
    pub(super) fn length(&self) -> usize {
        self.spectrum.length()
    }

    /// Power of each bin.
    pub(super) fn power(&mut self, samples: &[f32]) -> &[f32] {
        self.spectrum.of(samples)
    }

    /// Bins from the first to the last that lines are looked for in.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "bins are small positive numbers"
    )]
    pub(super) fn bins(&self) -> std::ops::Range<usize> {
        let bin = |hz: f64| (hz / self.bin_hz).ceil() as usize;
        // The neighbourhood of a line lies inside.
        let reach = self.bins_in(BESIDE_HZ[1]) + 1;
        bin(RANGE_HZ[0]).max(2)
            ..bin(RANGE_HZ[1]).min((self.spectrum.power().len() - 2).saturating_sub(reach))
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "bins are small positive numbers"
    )]
    fn bins_in(&self, hz: f64) -> usize {
        (hz / self.bin_hz).round() as usize
    }

    /// The strongest lines of a window, into `lines`; strongest first.
    #[expect(clippy::cast_precision_loss, reason = "some thousands of bins")]
    pub(super) fn lines(&mut self, samples: &[f32], lines: &mut Vec<Line>) {
        self.spectrum.of(samples);
        let (bins, power) = (self.bins(), self.spectrum.power());
        let mean = sum_of(power, |x| x) / power.len() as f32;
        let mut tops = std::mem::take(&mut self.tops);
        tops.clear();
        // Whether a bin is a peak is as good as chance: a branch on each of them would cost more than all the rest.
        self.marks.resize(bins.len(), 0);
        mark_tops(self.isa, &power[bins.start - 1..=bins.end], LEAST_POWER, &mut self.marks);
        for (some, marks) in self.marks.chunks(size_of::<u64>()).enumerate() {
            let mut bytes = [0; size_of::<u64>()];
            bytes[..marks.len()].copy_from_slice(marks);
            let mut marked = u64::from_le_bytes(bytes);
            while marked != 0 {
                let bin = bins.start + 8 * some + marked.trailing_zeros() as usize / 8;
                tops.push((bin, power[bin]));
                marked &= marked - 1;
            }
        }
        let stronger = |a: &(usize, f32), b: &(usize, f32)| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0));
        if tops.len() > MOST_LINES {
            tops.select_nth_unstable_by(MOST_LINES, stronger);
            tops.truncate(MOST_LINES);
        }
        tops.sort_unstable_by(stronger);
        lines.clear();
        lines.extend(tops.iter().filter_map(|&(bin, _)| self.line(bin, mean)));
        self.tops = tops;
    }

    #[expect(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        reason = "some thousands of bins"
    )]
    fn line(&self, bin: usize, mean: f32) -> Option<Line> {
        let power = self.spectrum.power();
        let (near, far) = (self.bins_in(BESIDE_HZ[0]), self.bins_in(BESIDE_HZ[1]));
        let below = &power[bin.saturating_sub(far)..(bin + 1).saturating_sub(near).max(1)];
        let above = &power[bin + near..=bin + far];
        let sum = below.iter().sum::<f32>() + above.iter().sum::<f32>();
        let beside = sum / (below.len() + above.len()) as f32;
        let here = power[bin];
        if here < STANDS_OUT * beside {
            return None;
        }
        let [low, top, high] = [bin - 1, bin, bin + 1].map(|bin| in_db(power[bin]));
        let bend = low - 2.0 * top + high;
        let off = if bend < -1e-6 { 0.5 * (low - high) / bend } else { 0.0 };
        let place = bin as f64 + f64::from(off);
        let highest = |multiples: &[f64]| {
            in_db(multiples.iter().map(|&k| self.near(k * place)).fold(0.0, f32::max))
        };
        Some(Line {
            hz: (place * self.bin_hz) as f32,
            dbfs: top - 0.25 * (low - high) * off,
            beside_db: top - in_db(beside),
            mean_db: top - in_db(mean),
            over_db: (highest(&OVER) - top).max(NOTHING_DB),
            under_db: (highest(&UNDER) - top).max(NOTHING_DB),
        })
    }

    /// Highest power within one percent and a bin of a place.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "bins are small positive numbers"
    )]
    fn near(&self, place: f64) -> f32 {
        let power = self.spectrum.power();
        let reach = 1 + (0.01 * place) as usize;
        let bin = place.round() as usize;
        if bin < 5 || bin + reach >= power.len() {
            return 0.0;
        }
        power[bin - reach.min(bin)..=bin + reach].iter().copied().fold(0.0, f32::max)
    }
}

/// A sum in eight strands, which run in lanes.
pub(super) fn sum_of(values: &[f32], of: impl Fn(f32) -> f32) -> f32 {
    let (rows, rest) = values.as_chunks::<LANES>();
    let mut sums = [0.0f32; LANES];
    for row in rows {
        for (sum, &x) in sums.iter_mut().zip(row) {
            *sum += of(x);
        }
    }
    sums.iter().sum::<f32>() + rest.iter().map(|&x| of(x)).sum::<f32>()
}

/// A power in dB.
pub(super) fn in_db(power: f32) -> f32 {
    10.0 * power.max(1e-12).log10()
}
