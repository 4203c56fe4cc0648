//! How far each frequency stands over what lies beside it, on the mean of a few seconds.
//!
//! A loop just under the edge lifts its own frequency whatever is said: by 21 dB at 0.8 dB under it, by 6 dB at 6 dB. A voice moves on, so
//! that the mean over a few seconds of talk shows what stays. Takes spectra of one channel, gives the frequencies that stand out. Never
//! knows who talks.

use crate::dsp::lanes::{Isa, to_db};

/// What lies beside a frequency, on either side, in Hz.
const BESIDE_HZ: [f64; 2] = [12.0, 40.0];

/// Windows of a stretch, 128 ms apart: 3 s.
const WINDOWS: usize = 23;

/// Windows this far under the loudest of late don't count, in dB: pauses show hum and hiss. What is of late fades, in dB a second.
const UNDER_DB: f64 = 30.0;
const FADES_DB_S: f64 = 3.0;

/// Peaks kept of a stretch: the highest.
const MOST_PEAKS: usize = 12;

/// Frequencies that stood out for some seconds.
#[derive(Clone, Debug, PartialEq)]
pub struct Stretch {
    /// Middle of the first window, in seconds.
    pub start_s: f64,
    /// Middle of the last window, in seconds.
    pub end_s: f64,
    /// Windows that were loud enough.
    pub n_windows: usize,
    /// Highest first.
    pub peaks: Vec<Peak>,
}

/// A frequency that stands out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Peak {
    /// Frequency.
    pub hz: f64,
    /// Mean of its level over the mean power 12 to 40 Hz beside it.
    pub over_db: f64,
    /// Standard deviation of its level: a hum stays where it is, a ring goes with the voice.
    pub moves_db: f64,
}

/// Sums of one bin, in dB.
#[derive(Clone, Copy, Debug, Default)]
struct Sums {
    over: f64,
    level: f64,
    squared: f64,
}

/// Adds up the windows of a stretch.
#[derive(Clone, Debug)]
pub(super) struct Edge {
    isa: Isa,
    bin_hz: f64,
    bins: std::ops::Range<usize>,
    window_s: f64,
    /// Windows taken in all, and those of this stretch that were loud enough.
    n_taken: usize,
    n_loud: usize,
    loudest: f64,
    /// Sums of the bins from the first on, and powers of the bins up to each.
    sums: Vec<Sums>,
    up_to: Vec<f64>,
    levels_db: Vec<f32>,
    beside_db: Vec<f32>,
}

impl Edge {
    /// For windows `window_s` apart, of which the bins in a range are looked at.
    pub(super) fn new(bin_hz: f64, bins: std::ops::Range<usize>, window_s: f64) -> Self {
        Self {
            isa: Isa::best(),
            bin_hz,
            window_s,
            n_taken: 0,
            n_loud: 0,
            loudest: 0.0,
            sums: vec![Sums::default(); bins.len()],
            up_to: Vec::new(),
            levels_db: Vec::new(),
            beside_db: Vec::new(),
            bins,
        }
    }

    /// From one window to the next, in seconds.
    pub(super) fn window_s(&self) -> f64 {
        self.window_s
    }

    /// Takes the mean power of a window and the powers of its bins, which are asked for where it is loud enough; gives the stretch that it
    /// ends. The middle of the first window lies one step behind the begin.
    #[expect(clippy::cast_precision_loss, reason = "counts of windows")]
    pub(super) fn push<'a>(
        &mut self,
        power: f64,
        bins: impl FnOnce() -> &'a [f32],
    ) -> Option<Stretch> {
        let fades = 10f64.powf(-0.1 * FADES_DB_S * self.window_s);
        self.loudest = power.max(fades * self.loudest);
        if power > f64::from(super::LEAST_POWER)
            && power > self.loudest * 10f64.powf(-0.1 * UNDER_DB)
        {
            self.add(bins());
        }
        self.n_taken += 1;
        if !self.n_taken.is_multiple_of(WINDOWS) {
            return None;
        }
        let stretch = Stretch {
            start_s: (self.n_taken - WINDOWS + 1) as f64 * self.window_s,
            end_s: self.n_taken as f64 * self.window_s,
            n_windows: self.n_loud,
            peaks: self.peaks(),
        };
        self.sums.fill(Sums::default());
        self.n_loud = 0;
        Some(stretch)
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss,
        reason = "some tens of bins"
    )]
    fn add(&mut self, powers: &[f32]) {
        self.n_loud += 1;
        let mut sum = 0.0;
        self.up_to.clear();
        self.up_to.push(0.0);
        self.up_to.extend(powers.iter().map(|&power| {
            sum += f64::from(power);
            sum
        }));
        let [near, far] = BESIDE_HZ.map(|hz| (hz / self.bin_hz).round() as usize);
        let share = 1.0 / (2 * (far - near + 1)) as f64;
        let beside = |bin: usize| {
            let [below, above] = [bin - far..bin - near + 1, bin + near..bin + far + 1]
                .map(|side| self.up_to[side.end] - self.up_to[side.start]);
            (share * (below + above)) as f32
        };
        self.beside_db.clear();
        self.beside_db.extend(self.bins.clone().map(beside));
        to_db(self.isa, &mut self.beside_db);
        self.levels_db.clear();
        self.levels_db.extend_from_slice(&powers[self.bins.clone()]);
        to_db(self.isa, &mut self.levels_db);
        let levels = self.levels_db.iter().zip(&self.beside_db);
        for (sums, (&level_db, &beside_db)) in self.sums.iter_mut().zip(levels) {
            let level = f64::from(level_db);
            sums.over += level - f64::from(beside_db);
            sums.level += level;
            sums.squared += level * level;
        }
    }

    /// The frequencies that stand out most.
    #[expect(clippy::cast_precision_loss, reason = "some thousands of bins")]
    fn peaks(&self) -> Vec<Peak> {
        let n = self.n_loud as f64;
        let is_top = |sums: &[Sums]| {
            let [low, top, high] = [0, 1, 2].map(|at| sums[at].over);
            top > 0.0 && low <= top && top > high
        };
        let peak = |(at, sums): (usize, &[Sums])| {
            let [low, top, high] = [0, 1, 2].map(|at| sums[at].over / n);
            let off = 0.5 * (low - high) / (low - 2.0 * top + high);
            let level_db = sums[1].level / n;
            Peak {
                hz: ((self.bins.start + at + 1) as f64 + off) * self.bin_hz,
                over_db: top,
                moves_db: (sums[1].squared / n - level_db * level_db).max(0.0).sqrt(),
            }
        };
        let tops = self.sums.windows(3).enumerate().filter(|(_, sums)| is_top(sums));
        let mut peaks: Vec<Peak> = tops.map(peak).collect();
        peaks.sort_by(|a, b| b.over_db.total_cmp(&a.over_db).then(a.hz.total_cmp(&b.hz)));
        peaks.truncate(MOST_PEAKS);
        // Kept for as long as the recording is: without the room of those that were dropped.
        peaks.shrink_to_fit();
        peaks
    }
}
