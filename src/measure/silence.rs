//! # Digital silence and dropouts
//!
//! How much of a recording is exact zero, and where sound is torn by zeros or by a block that comes twice.
//!
//! - **Formula:** digital silence is the share of samples in runs of exact zeros of 10 ms or more. A dropout is a run
//!   of 1 to 200 ms of exact zeros that cuts sound on both sides: the 5 ms beside it reach a third of the highest
//!   sample in the 40 ms beside it, and -60 dBFS. Or a run in which each sample equals the one P samples before, for
//!   P = 32, 64 .. 2048, at least 0.9 P and at most 4 P long, that is not constant and reaches -60 dBFS
//! - **Unit:** %; events
//! - **Range:** 0 to 100 %; 0 events upwards
//! - **Source:** common practice; block lengths are those of audio drivers
//! - **Window:** whole recording, at the file's own rate
//! - **No value:** never; a silent channel has 100 % and no dropout
//! - **Misleads when:** the signal is made of bursts with digital silence between (a click, a synthesiser). Where
//!   more than a tenth of the samples between the first and the last sound is digital silence, zeros are not taken
//!   for dropouts

use crate::dsp::{Frames, Group};

/// Longest distance of a repeated block, and so the samples kept in front of a frame.
const HISTORY: usize = 2048 + 64;

/// New samples in a frame.
const HOP: usize = 4096;

/// Distances of repeated blocks, in samples.
const PERIODS: [usize; 7] = [32, 64, 128, 256, 512, 1024, 2048];

/// Every how many samples a repeated block is looked for: it is at least 28 long.
const LOOK: usize = 16;

/// Runs of zeros of this length are digital silence.
const SILENCE_S: f64 = 0.010;

/// Shortest and longest run of zeros that is a dropout: recorders lose blocks of up to 8192 samples.
const DROPOUT_S: [f64; 2] = [0.001, 0.200];

/// Fewest zeros in a dropout, whatever the rate.
const FEWEST_ZEROS: usize = 24;

/// What lies right beside a dropout, and what that is compared with.
const NEAR_S: f64 = 0.005;
const FAR_S: f64 = 0.040;

/// Share of the far peak that the near peak reaches where sound is torn and not faded (a gate, an edit).
const TORN: f32 = 0.33;

/// Sound: -60 dBFS.
const SOUND: f32 = 1e-3;

/// What is softer than -80 dBFS is not looked at for repeated blocks.
const WORTH_A_LOOK: f32 = SOUND / 10.0;

/// Above this share of digital silence, zeros belong to the signal.
const MADE_OF_BURSTS: f64 = 0.1;

/// Faults closer than this are one.
const JOIN_S: f64 = 0.050;

/// Times kept.
const MAX_TIMES: usize = 100;

/// Zeros and repeated blocks of one channel.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Silence {
    /// Share of the recording that is digital silence, 0 to 100.
    pub digital_silence_percent: f64,
    /// Dropouts.
    pub n_dropouts: usize,
    /// When they begin, in seconds: the first hundred at most.
    pub dropouts_at_s: Vec<f64>,
}

/// Finds digital silence and dropouts.
#[derive(Clone, Debug)]
pub struct SilenceMeter {
    rate_hz: f64,
    channels: Vec<(Frames, Scan)>,
}

impl SilenceMeter {
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

    /// Digital silence and dropouts of each channel.
    pub fn finish(self) -> Vec<Silence> {
        let rate_hz = self.rate_hz;
        let finish = |(frames, mut scan): (Frames, Scan)| {
            frames.finish(|first, frame| scan.frame(first, frame));
            scan.finish(rate_hz)
        };
        self.channels.into_iter().map(finish).collect()
    }
}

/// Times of faults, joined where they lie close.
#[derive(Clone, Debug, Default)]
struct Times {
    count: usize,
    last: usize,
    starts: Vec<usize>,
}

impl Times {
    fn add(&mut self, start: usize, end: usize, join: usize) {
        if self.count == 0 || start > self.last + join {
            self.count += 1;
            if self.starts.len() < MAX_TIMES {
                self.starts.push(start);
            }
        }
        self.last = self.last.max(end);
    }
}

/// A torn edge before zeros, waiting for what follows.
#[derive(Clone, Copy, Debug)]
struct Gap {
    start: usize,
    end: usize,
    seen: usize,
    near: f32,
    far: f32,
}

#[derive(Clone, Debug)]
struct Scan {
    near: usize,
    far: usize,
    silence: usize,
    dropout: [usize; 2],
    join: usize,
    n_samples: usize,
    /// Start of the run of zeros that goes on, and whether a torn edge lies before it.
    zeros: Option<(usize, bool)>,
    gap: Option<Gap>,
    n_silent: usize,
    /// Digital silence before the first and after the last sound.
    n_outside: usize,
    gaps: Times,
    /// For each distance: start of the run of equal samples that goes on, and its highest sample.
    equal: [Option<Equal>; PERIODS.len()],
    repeats: Times,
}

#[derive(Clone, Copy, Debug)]
struct Equal {
    start: usize,
    end: usize,
    low: f32,
    high: f32,
}

impl Scan {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "parts of a second in samples are small positive numbers"
    )]
    fn new(rate_hz: f64) -> Self {
        let samples = |time_s: f64| (time_s * rate_hz).round() as usize;
        Self {
            near: samples(NEAR_S),
            // The look back must fit into the history at every rate.
            far: samples(FAR_S).min(HISTORY),
            silence: samples(SILENCE_S),
            dropout: [samples(DROPOUT_S[0]).max(FEWEST_ZEROS), samples(DROPOUT_S[1])],
            join: samples(JOIN_S),
            n_samples: 0,
            zeros: None,
            gap: None,
            n_silent: 0,
            n_outside: 0,
            gaps: Times::default(),
            equal: [None; PERIODS.len()],
            repeats: Times::default(),
        }
    }

    fn frame(&mut self, first: usize, frame: &[f32]) {
        let new = &frame[HISTORY..];
        self.n_samples = first + new.len();
        if self.zeros.is_some() || self.gap.is_some() || may_hold_run_of_zeros(new) {
            for place in HISTORY..frame.len() {
                self.zero_or_not(first + place - HISTORY, place, frame);
            }
        }
        if self.equal.iter().any(Option::is_some) || may_hold_repeat(first, frame) {
            for code in 0..PERIODS.len() {
                self.repeated(code, first, frame);
            }
        }
    }

    fn zero_or_not(&mut self, number: usize, place: usize, frame: &[f32]) {
        let size = frame[place].abs();
        let is_zero = size <= 0.0;
        match (is_zero, self.zeros) {
            (true, None) => {
                let far = peak(&frame[place.saturating_sub(self.far)..place]);
                let near = peak(&frame[place.saturating_sub(self.near)..place]);
                self.zeros = Some((number, near >= SOUND && near >= TORN * far));
            }
            (false, Some((start, is_torn))) => {
                self.zeros = None;
                self.end_zeros(start, number, is_torn);
            }
            _ => {}
        }
        if let Some(gap) = &mut self.gap {
            gap.far = gap.far.max(size);
            if gap.seen < self.near {
                gap.near = gap.near.max(size);
            }
            gap.seen += 1;
            if gap.seen >= self.far {
                self.judge_gap();
            }
        }
    }

    fn end_zeros(&mut self, start: usize, end: usize, is_torn: bool) {
        let len = end - start;
        if len >= self.silence {
            self.n_silent += len;
            if start == 0 {
                self.n_outside += len;
            }
        }
        if is_torn && len >= self.dropout[0] && len <= self.dropout[1] {
            self.judge_gap();
            self.gap = Some(Gap { start, end, seen: 0, near: 0.0, far: 0.0 });
        }
    }

    fn judge_gap(&mut self) {
        let Some(gap) = self.gap.take() else { return };
        if gap.near >= SOUND && gap.near >= TORN * gap.far {
            self.gaps.add(gap.start, gap.end, self.join);
        }
    }

    /// Follows and looks for runs in which samples equal those one distance before.
    fn repeated(&mut self, code: usize, first: usize, frame: &[f32]) {
        let period = PERIODS[code];
        let is_equal = |place: usize| is_same(frame[place], frame[place - period]);
        let mut place = HISTORY;
        if let Some(run) = &mut self.equal[code] {
            place = extend(run, frame, place, &is_equal);
            if place < frame.len() {
                self.end_equal(code);
            }
        }
        // The next place to look at stands on absolute sample numbers.
        place += to_look(first, place);
        while place < frame.len() {
            if !is_equal(place) || frame[place].abs() < WORTH_A_LOOK {
                place += LOOK;
                continue;
            }
            let mut from = place;
            while from > place - 2 * LOOK && from > period && is_equal(from - 1) {
                from -= 1;
            }
            let start = (first + from).saturating_sub(HISTORY);
            let mut run = Equal { start, end: start, low: f32::MAX, high: f32::MIN };
            place = extend(&mut run, frame, from, &is_equal);
            self.equal[code] = Some(run);
            if place < frame.len() {
                self.end_equal(code);
            }
            place += to_look(first, place);
        }
    }

    fn end_equal(&mut self, code: usize) {
        let Some(run) = self.equal[code].take() else { return };
        let (len, period) = (run.end - run.start, PERIODS[code]);
        let is_sound = run.high.max(-run.low) >= SOUND && run.high - run.low >= SOUND;
        if is_sound && 10 * len >= 9 * period && len >= FEWEST_ZEROS && len <= 4 * period {
            self.repeats.add(run.start, run.end, self.join);
        }
    }

    #[expect(clippy::cast_precision_loss, reason = "counts of samples are below 2^52")]
    fn finish(mut self, rate_hz: f64) -> Silence {
        self.judge_gap();
        if let Some((start, _)) = self.zeros {
            let len = self.n_samples - start;
            if len >= self.silence {
                self.n_silent += len;
                self.n_outside += len;
            }
        }
        let share = |part: usize, whole: usize| part as f64 / whole.max(1) as f64;
        let inside = share(self.n_silent - self.n_outside, self.n_samples - self.n_outside);
        let mut times = self.repeats.clone();
        if inside <= MADE_OF_BURSTS {
            times.count += self.gaps.count;
            times.starts.extend(&self.gaps.starts);
        }
        times.starts.sort_unstable();
        times.starts.truncate(MAX_TIMES);
        Silence {
            digital_silence_percent: 100.0 * share(self.n_silent, self.n_samples),
            n_dropouts: times.count,
            dropouts_at_s: times.starts.iter().map(|&start| start as f64 / rate_hz).collect(),
        }
    }
}

/// Carries a run on from `place` and gives the place where it ends.
fn extend(
    run: &mut Equal,
    frame: &[f32],
    place: usize,
    is_equal: &impl Fn(usize) -> bool,
) -> usize {
    let end = (place..frame.len()).find(|&place| !is_equal(place)).unwrap_or(frame.len());
    for &x in &frame[place..end] {
        (run.low, run.high) = (run.low.min(x), run.high.max(x));
    }
    run.end += end - place;
    end
}

/// Size of the largest sample.
fn peak(samples: &[f32]) -> f32 {
    samples.iter().fold(0.0, |peak: f32, x| peak.max(x.abs()))
}

fn is_same(one: f32, other: f32) -> bool {
    (one - other).abs() <= 0.0
}

/// Samples from a place to the next that is looked at for a repeated block.
fn to_look(first: usize, place: usize) -> usize {
    (LOOK - (first + place - HISTORY) % LOOK) % LOOK
}

/// Whether any place that is looked at equals what lies one of the distances before: few frames hold one.
fn may_hold_repeat(first: usize, frame: &[f32]) -> bool {
    const REACH: usize = PERIODS[PERIODS.len() - 1];
    let begin = HISTORY + to_look(first, HISTORY) - REACH;
    frame[begin.min(frame.len())..].windows(REACH + 1).step_by(LOOK).any(|window| {
        let x = window[REACH];
        let is_any =
            PERIODS.iter().fold(false, |any, period| any | is_same(x, window[REACH - period]));
        is_any && x.abs() >= WORTH_A_LOOK
    })
}

/// Whether a run of zeros of the least length can lie in the samples: it covers every 16th one or the end.
fn may_hold_run_of_zeros(samples: &[f32]) -> bool {
    let zero = |x: &f32| x.abs() <= 0.0;
    samples.iter().step_by(LOOK).any(zero) || samples.last().is_some_and(zero)
}
