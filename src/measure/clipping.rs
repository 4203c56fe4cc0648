//! # Flat tops
//!
//! Places where the peaks of a signal are cut off: clipping before or in the recorder.
//!
//! - **Formula:** a run of 3 or more samples that differ by at most one 16-bit step and stand above both neighbours;
//!   within half the run's length on either side the signal falls by more than 40 times what the run itself varies,
//!   plus 16 steps. A natural top falls by at most 6 times (parabola) or 30 times (fourth power) as much, at any
//!   frequency and level. Runs that share one plateau level (within 0.025 %) belong together; a level counts if it
//!   is full scale, or lies within 0.5 dB of the channel's highest sample and comes twice, or lies above a quarter of
//!   it and above -20 dBFS and comes three times. Runs closer than 50 ms are one event
//! - **Unit:** events; ms for the longest run; dBFS for the plateau
//! - **Range:** 0 events upwards
//! - **Source:** counting consecutive samples at full scale is long-standing mastering practice (Katz, Mastering
//!   Audio, from memory); run lengths of a clipped sine follow from its formula
//! - **Window:** whole recording, at the file's own rate
//! - **No value:** never; a silent channel has none
//! - **Misleads when:** the source is flat by nature (synthesised square waves, distortion, mastered loops); a
//!   high-pass, resampling or lossy coding behind the clipping has rounded the tops, so that none is found

use crate::dsp::lanes::{Isa, largest_size};
use crate::dsp::{Frames, Group};
use crate::unit::{Fact, Unmeasured};

/// Old samples in front of a frame: enough for the longest look back behind a run of three.
const HISTORY: usize = 64;

/// New samples in a frame.
const HOP: usize = 1024;

/// One step of a 16-bit file, with half a percent for rounding: samples of one plateau don't differ by more.
const STEP: f32 = 1.005 / 32768.0;

/// Samples that make a flat top: "3 or more consecutive samples at full scale" (common practice).
const SHORTEST_RUN: usize = 3;

/// Plateaus below -40 dBFS are not looked for: there, 16-bit steps are a third of a percent.
const LOWEST_LEVEL: f32 = 0.01;

/// How often the run's own variation the signal must fall outside. A fourth-power top reaches 30.
const FALL_PER_VARIATION: f32 = 40.0;

/// How many 16-bit steps it must fall besides: rounding may hide one step of curvature, which grows sixfold.
const FALL_STEPS: f32 = 16.0;

/// Distances at which the fall is looked for, in samples: powers of two up to 32.
const N_REACHES: usize = 6;

/// Plateaus of one level agree within this share: 0.002 dB.
const SAME_LEVEL: f32 = 2.5e-4;

/// Full scale: the highest 16-bit sample is 0.99997.
const FULL_SCALE: f32 = 0.9999;

/// A plateau this close to the highest sample (0.5 dB) is the ceiling of the take.
const NEAR_TOP: f32 = 0.944;

/// A ceiling elsewhere (gain changed during the take) stands above this share of the highest sample.
const FAR_TOP: f32 = 0.25;

/// And above -20 dBFS: lower down, coincidences of 16-bit samples pile up in an hour.
const LOWEST_FAR_LEVEL: f32 = 0.1;

/// Runs closer than this belong to one event.
pub const JOIN_S: f64 = 0.050;

/// Levels kept at a time.
const MAX_LEVELS: usize = 24;

/// Times kept for a level.
const MAX_TIMES: usize = 100;

/// Flat tops of one channel.
#[derive(Clone, Debug, PartialEq)]
pub struct FlatTops {
    /// Events.
    pub count: usize,
    /// When they begin, in seconds: the first hundred at most.
    pub at_s: Vec<f64>,
    /// Single flat tops.
    pub n_runs: usize,
    /// Time that lies in flat tops, in seconds.
    pub flat_s: f64,
    /// Longest flat top, in milliseconds; 0 where there is none.
    pub longest_ms: f64,
    /// Level of the plateau with most events.
    pub level_dbfs: Fact,
}

/// Finds flat tops.
#[derive(Clone, Debug)]
pub struct FlatTopMeter {
    rate_hz: f64,
    channels: Vec<(Frames, Scan)>,
}

impl FlatTopMeter {
    /// A meter for `n_channels` at `rate_hz`.
    pub fn new(rate_hz: u32, n_channels: usize) -> Self {
        let rate_hz = f64::from(rate_hz);
        let channels = vec![(Frames::new(HISTORY, HOP), Scan::new(rate_hz)); n_channels];
        Self { rate_hz, channels }
    }

    /// Takes a block.
    pub fn push(&mut self, group: Group<'_>) {
        for ((frames, scan), plane) in self.channels.iter_mut().zip(group.planes()) {
            frames.push(plane, |first, frame| scan.frame(first, frame));
        }
    }

    /// The flat tops of each channel.
    pub fn finish(self) -> Vec<FlatTops> {
        let rate_hz = self.rate_hz;
        let finish = |(frames, mut scan): (Frames, Scan)| {
            frames.finish(|first, frame| scan.frame(first, frame));
            scan.finish(rate_hz)
        };
        self.channels.into_iter().map(finish).collect()
    }
}

/// A run of like samples that goes on.
#[derive(Clone, Copy, Debug)]
struct Run {
    start: usize,
    len: usize,
    low: f32,
    high: f32,
    /// The last sample before the run, and the lowest within 1, 2, 4 .. 32 before it, as heights (positive is outwards).
    before: [f32; N_REACHES],
}

impl Run {
    fn sign(&self) -> f32 {
        if self.low < 0.0 { -1.0 } else { 1.0 }
    }

    /// Height of the plateau.
    fn level(&self) -> f32 {
        (self.low + self.high).abs() / 2.0
    }
}

/// A run that has ended and waits for what follows.
#[derive(Clone, Copy, Debug)]
struct Ended {
    run: Run,
    reach: usize,
    seen: usize,
    after: f32,
}

/// What one plateau level has gathered.
#[derive(Clone, Debug)]
struct Level {
    level: f32,
    n_runs: usize,
    n_flat: usize,
    longest: usize,
    count: usize,
    last: usize,
    starts: Vec<usize>,
}

#[derive(Clone, Debug)]
struct Scan {
    isa: Isa,
    join: usize,
    top: f32,
    open: Option<Run>,
    ended: Option<Ended>,
    levels: Vec<Level>,
}

impl Scan {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a twentieth of a sample rate is a small positive number"
    )]
    fn new(rate_hz: f64) -> Self {
        let join = (JOIN_S * rate_hz) as usize;
        Self { isa: Isa::best(), join, top: 0.0, open: None, ended: None, levels: Vec::new() }
    }

    fn frame(&mut self, first: usize, frame: &[f32]) {
        let peak = largest_size(self.isa, &frame[HISTORY..]);
        self.top = self.top.max(peak);
        let lowest = LOWEST_LEVEL.max(FAR_TOP * self.top);
        let idle = self.open.is_none() && self.ended.is_none();
        // Two samples back, so that a run across the border of two frames is seen.
        if idle && (peak < lowest || !has_flat_triple(&frame[HISTORY - 2..], lowest)) {
            return;
        }
        for place in HISTORY..frame.len() {
            self.sample(first + place - HISTORY, place, frame, lowest);
        }
    }

    fn sample(&mut self, number: usize, place: usize, frame: &[f32], lowest: f32) {
        let x = frame[place];
        if let Some(ended) = &mut self.ended {
            ended.after = ended.after.min(x * ended.run.sign());
            ended.seen += 1;
            if ended.seen == ended.reach {
                self.decide();
            }
        }
        if let Some(run) = &mut self.open {
            let (low, high) = (run.low.min(x), run.high.max(x));
            if high - low <= STEP {
                (run.low, run.high, run.len) = (low, high, run.len + 1);
                if run.len == SHORTEST_RUN {
                    run.before = heights_before(frame, place + 1 - SHORTEST_RUN, run.sign());
                }
                return;
            }
            self.close(x);
        }
        if x.abs() >= lowest {
            self.open =
                Some(Run { start: number, len: 1, low: x, high: x, before: [0.0; N_REACHES] });
        }
    }

    /// Ends the open run at the sample that no longer belongs to it.
    fn close(&mut self, x: f32) {
        let Some(run) = self.open.take() else { return };
        let after = x * run.sign();
        if run.len < SHORTEST_RUN || after > run.level() || run.before[0] > run.level() {
            return;
        }
        // A run may end within the reach of the one before: that one is judged by what was seen.
        self.decide();
        let reach = 1usize << reach_code(run.len);
        self.ended = Some(Ended { run, reach, seen: 1, after });
        if reach == 1 {
            self.decide();
        }
    }

    fn decide(&mut self) {
        let Some(Ended { run, after, .. }) = self.ended.take() else { return };
        let fall = run.level() - after.max(run.before[reach_code(run.len)]);
        if fall >= FALL_PER_VARIATION * (run.high - run.low) + FALL_STEPS * STEP {
            self.gather(run);
        }
    }

    fn gather(&mut self, run: Run) {
        let height = run.level();
        let known = |level: &Level| (level.level - height).abs() <= SAME_LEVEL * height;
        if !self.levels.iter().any(known) {
            if self.levels.len() == MAX_LEVELS {
                self.forget_least();
            }
            self.levels.push(Level {
                level: height,
                n_runs: 0,
                n_flat: 0,
                longest: 0,
                count: 0,
                last: 0,
                starts: Vec::new(),
            });
        }
        let Some(level) = self.levels.iter_mut().find(|level| known(level)) else { return };
        if level.count == 0 || run.start > level.last + self.join {
            level.count += 1;
            if level.starts.len() < MAX_TIMES {
                level.starts.push(run.start);
            }
        }
        level.n_runs += 1;
        level.n_flat += run.len;
        level.longest = level.longest.max(run.len);
        level.last = run.start + run.len;
    }

    /// Makes room: of the levels with fewest runs, the lowest goes.
    fn forget_least(&mut self) {
        let least = (0..self.levels.len()).min_by(|&a, &b| {
            let (a, b) = (&self.levels[a], &self.levels[b]);
            a.n_runs.cmp(&b.n_runs).then(a.level.total_cmp(&b.level))
        });
        if let Some(least) = least {
            self.levels.swap_remove(least);
        }
    }

    #[expect(clippy::cast_precision_loss, reason = "counts of samples are below 2^52")]
    fn finish(mut self, rate_hz: f64) -> FlatTops {
        self.decide();
        let top = self.top;
        self.levels.retain(|level| is_ceiling(level, top));
        let most = self
            .levels
            .iter()
            .max_by(|a, b| a.n_runs.cmp(&b.n_runs).then(a.level.total_cmp(&b.level)));
        let level_dbfs = most
            .map_or(Fact::missing(Unmeasured::Because("there are no flat tops")), |level| {
                Fact::exact(20.0 * f64::from(level.level).log10())
            });
        // Upper and lower plateaus may differ in level, and still are one event.
        let mut starts: Vec<usize> =
            self.levels.iter().flat_map(|level| level.starts.iter().copied()).collect();
        starts.sort_unstable();
        let mut at: Vec<usize> = Vec::new();
        for start in starts {
            if at.last().is_none_or(|&last| start > last + self.join) {
                at.push(start);
            }
        }
        at.truncate(MAX_TIMES);
        let count = self.levels.iter().map(|level| level.count).max().unwrap_or(0).max(at.len());
        let n_flat: usize = self.levels.iter().map(|level| level.n_flat).sum();
        let longest = self.levels.iter().map(|level| level.longest).max().unwrap_or(0);
        FlatTops {
            count,
            at_s: at.iter().map(|&start| start as f64 / rate_hz).collect(),
            n_runs: self.levels.iter().map(|level| level.n_runs).sum(),
            flat_s: n_flat as f64 / rate_hz,
            longest_ms: 1000.0 * longest as f64 / rate_hz,
            level_dbfs,
        }
    }
}

/// Whether a level that flat tops share is a ceiling and no coincidence.
fn is_ceiling(level: &Level, top: f32) -> bool {
    level.level >= FULL_SCALE
        || (level.level >= NEAR_TOP * top && level.n_runs >= 2)
        || (level.level >= LOWEST_FAR_LEVEL.max(FAR_TOP * top) && level.n_runs >= 3)
}

/// Exponent of the power of two that lies at or below half a run, at most 32.
fn reach_code(len: usize) -> usize {
    ((len / 2).max(1).ilog2() as usize).min(N_REACHES - 1)
}

/// Lowest height within 1, 2, 4 .. 32 samples before `start`.
fn heights_before(frame: &[f32], start: usize, sign: f32) -> [f32; N_REACHES] {
    let mut heights = [f32::MAX; N_REACHES];
    let mut lowest = f32::MAX;
    for distance in 1..=1 << (N_REACHES - 1) {
        lowest = lowest.min(sign * frame[start - distance]);
        if distance.is_power_of_two() {
            heights[distance.ilog2() as usize] = lowest;
        }
    }
    heights
}

/// Whether three samples in a row are alike and high enough. Counts instead of leaving early, so that the loop runs in lanes.
fn has_flat_triple(samples: &[f32], lowest: f32) -> bool {
    let count: u32 = samples
        .windows(3)
        .map(|w| {
            u32::from((w[1] - w[0]).abs() <= STEP)
                & u32::from((w[2] - w[1]).abs() <= STEP)
                & u32::from(w[1].abs() >= lowest)
        })
        .sum();
    count > 0
}
