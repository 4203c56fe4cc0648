//! # Drift of a further recorder
//!
//! How much faster the clock of a recorder ran than that of the session, from lags of shared sound over the take.
//!
//! - **Formula:** every pair of a reference and a channel of the recorder has lags at several moments; of all straight lines through two lags of a pair
//!   the slope that most lags of all pairs lie along, each pair with its own lag at the begin (within 0.3 ms); then the slope with the least squares
//!   of those lags; its uncertainty: twice its standard error, and what air that warms by 5 K does to the way of the sound, 20 m to a microphone
//!   in the hall and 10 m on a stage; where a single source tells, a person who walks 3 m
//! - **Unit:** parts per million, positive: faster, so that the same sound stands later from minute to minute
//! - **Range:** -300 to 300 ppm
//! - **Source:** slope by vote: M. A. Fischler, R. C. Bolles, "Random sample consensus", Comm. ACM 24(6), 1981, with every pair of lags as a sample;
//!   speed of sound `331.3 sqrt(1 + T/273.15)` m/s; borders by own trials
//! - **Window:** the take, a minute and more
//! - **No value:** fewer than 5 moments with shared sound in every pair, lags that follow no line, or more lines than one
//! - **Misleads when:** several sources walk alike and steadily through the whole take; the air warms by much more

use std::collections::BTreeSet;

use super::shared_lag::Sighting;
use crate::dsp::air::{USUAL_TEMPERATURE_C, speed_of_sound_m_s};
use crate::unit::Unmeasured;

/// Least time from the first lag to the last, in seconds.
pub const NEEDS_S: f64 = 45.0;

/// Moments in which a pair has to share sound along the line, and their least share of those in which it shares any.
const NEEDS_MOMENTS: usize = 5;
const NEEDS_SHARE: f64 = 0.6;

/// Lags this far from the line lie along it, in seconds: people sway by a hand's breadth.
const ALONG_S: f64 = 0.0003;

/// A clock that is off by more than this is none, in parts per million.
const MOST_PPM: f64 = 300.0;

/// Another slope that gets this share of the votes makes both doubtful.
const RIVAL_SHARE: f64 = 0.8;

/// What is not the clock's: air warms by this during a take, over this way, and a person walks.
const WARMS_BY_K: f64 = 5.0;
const HALL_WAY_M: f64 = 20.0;
const STAGE_WAY_M: f64 = 10.0;
const WALK_M: f64 = 3.0;

/// Sources that bear each other out: one that walks doesn't move the other.
pub const NEEDS_SOURCES: usize = 2;

/// Sources that bear a value out better still.
pub const MANY_SOURCES: usize = 3;

/// Which way sound takes to a channel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// Through the hall.
    Hall,
    /// Over the stage.
    Stage,
}

/// How a clock drifts.
#[derive(Clone, Debug, PartialEq)]
pub struct Drift {
    /// How much faster it runs, in parts per million.
    pub ppm: f64,
    /// What may be more or less, in parts per million: a smaller drift can't be told from air and people.
    pub uncertain_ppm: f64,
    /// Sources whose lags lie along the line.
    pub n_sources: usize,
    /// Lag of a pair at the begin of the session: the one that is borne out most, in seconds.
    pub late_s: f64,
}

/// A pair's lags.
type Lags<'a> = Vec<&'a Sighting>;

/// The drift that lags of all pairs tell. `is_source` tells which references are microphones or lines of a source of their own.
///
/// # Errors
///
/// Why there is none.
pub fn drift(
    sightings: &[Sighting],
    way: Way,
    is_source: impl Fn(usize) -> bool,
) -> Result<Drift, Unmeasured> {
    let pairs = pairs(sightings);
    if pairs.is_empty() {
        return Err(Unmeasured::Because("it shares too little sound with the other channels"));
    }
    let times = || pairs.iter().flatten().map(|one| one.at_s);
    let (from_s, to_s) = (times().fold(f64::MAX, f64::min), times().fold(f64::MIN, f64::max));
    let have_s = to_s - from_s;
    if have_s < NEEDS_S {
        return Err(Unmeasured::TooShort { have_s, need_s: NEEDS_S });
    }
    let middle_s = 0.5 * (from_s + to_s);
    let candidates = slopes(&pairs, have_s);
    let votes: Vec<usize> =
        candidates.iter().map(|&slope| votes(&pairs, slope, middle_s)).collect();
    let best = (0..candidates.len())
        .max_by(|&a, &b| votes[a].cmp(&votes[b]).then(b.cmp(&a)))
        .filter(|&best| votes[best] > 0);
    let no_line = Unmeasured::Because("lags of the sound that it shares follow no line");
    let best = best.ok_or(no_line.clone())?;
    let is_other = |slope: f64| (slope - candidates[best]).abs() * have_s > 4.0 * ALONG_S;
    #[expect(clippy::cast_precision_loss, reason = "votes are few")]
    let is_near = |at: usize| votes[at] as f64 >= RIVAL_SHARE * votes[best] as f64;
    let is_rival = |at: usize| is_other(candidates[at]) && is_near(at);
    if (0..candidates.len()).any(is_rival) {
        return Err(no_line);
    }
    let fitted = fitted(&pairs, candidates[best], [from_s, to_s]).ok_or(no_line)?;
    let n_sources = fitted.references.iter().filter(|&&one| is_source(one)).count();
    let beside_s = beside_the_clock_s(way, n_sources);
    Ok(Drift {
        ppm: 1e6 * fitted.slope,
        uncertain_ppm: 1e6 * (2.0 * fitted.error + beside_s / have_s),
        n_sources,
        late_s: fitted.late_s,
    })
}

/// Pairs with lags at enough moments.
fn pairs(sightings: &[Sighting]) -> Vec<Lags<'_>> {
    let keys: BTreeSet<(usize, usize)> =
        sightings.iter().map(|one| (one.reference, one.channel)).collect();
    let of = |key: (usize, usize)| -> Lags<'_> {
        sightings.iter().filter(|one| (one.reference, one.channel) == key).collect()
    };
    keys.into_iter().map(of).filter(|pair| n_moments(pair) >= NEEDS_MOMENTS).collect()
}

fn n_moments(lags: &[&Sighting]) -> usize {
    let mut times: Vec<f64> = lags.iter().map(|one| one.at_s).collect();
    times.sort_by(f64::total_cmp);
    times.dedup();
    times.len()
}

/// Slopes through two lags of a pair that lie a third of the take apart or more.
fn slopes(pairs: &[Lags<'_>], span_s: f64) -> Vec<f64> {
    let mut slopes = Vec::new();
    for pair in pairs {
        for (idx, one) in pair.iter().enumerate() {
            for other in &pair[idx + 1..] {
                let apart_s = other.at_s - one.at_s;
                let slope = (other.lag_s - one.lag_s) / apart_s;
                if apart_s.abs() >= span_s / 3.0 && slope.abs() <= MOST_PPM * 1e-6 {
                    slopes.push(slope);
                }
            }
        }
    }
    // What differs by less than a tenth of what counts as along is one.
    slopes.sort_by(f64::total_cmp);
    slopes.dedup_by(|next, kept| (*next - *kept) * span_s < 0.1 * ALONG_S);
    slopes
}

/// What speaks for a slope: for each pair the moments along its line beyond the two that make any line.
fn votes(pairs: &[Lags<'_>], slope: f64, middle_s: f64) -> usize {
    let of_pair = |pair: &Lags<'_>| {
        let along = n_moments(&along(pair, slope, middle_s));
        if is_borne_out(pair, along) { along.saturating_sub(2) } else { 0 }
    };
    pairs.iter().map(of_pair).sum()
}

fn is_borne_out(pair: &[&Sighting], n_along: usize) -> bool {
    #[expect(clippy::cast_precision_loss, reason = "moments are few")]
    let is_most = n_along as f64 >= NEEDS_SHARE * n_moments(pair) as f64;
    n_along >= NEEDS_MOMENTS && is_most
}

/// The most lags of a pair that lie along one line of a slope.
fn along<'a>(pair: &[&'a Sighting], slope: f64, middle_s: f64) -> Lags<'a> {
    let level_s = |one: &Sighting| one.lag_s - slope * (one.at_s - middle_s);
    let mut sorted: Lags<'a> = pair.to_vec();
    sorted.sort_by(|a, b| level_s(a).total_cmp(&level_s(b)));
    let mut best = 0..0;
    let mut first = 0;
    for last in 0..sorted.len() {
        while level_s(sorted[last]) - level_s(sorted[first]) > 2.0 * ALONG_S {
            first += 1;
        }
        if last + 1 - first > best.len() {
            best = first..last + 1;
        }
    }
    sorted[best].to_vec()
}

/// The lags of a pair along its line, and their means.
struct Line<'a> {
    lags: Lags<'a>,
    mean_s: f64,
    mean_lag_s: f64,
}

impl<'a> Line<'a> {
    #[expect(clippy::cast_precision_loss, reason = "lags are few")]
    fn new(lags: Lags<'a>) -> Self {
        let n = lags.len() as f64;
        let mean_s = lags.iter().map(|one| one.at_s).sum::<f64>() / n;
        let mean_lag_s = lags.iter().map(|one| one.lag_s).sum::<f64>() / n;
        Self { lags, mean_s, mean_lag_s }
    }

    /// Sum over the lags of a function of time and lag, both less their mean.
    fn sum(&self, of: impl Fn(f64, f64) -> f64) -> f64 {
        self.lags.iter().map(|one| of(one.at_s - self.mean_s, one.lag_s - self.mean_lag_s)).sum()
    }
}

/// The slope with the least squares, each pair with its own lag.
#[expect(clippy::cast_precision_loss, reason = "lags are few")]
fn fitted(pairs: &[Lags<'_>], slope: f64, [from_s, to_s]: [f64; 2]) -> Option<Fitted> {
    let middle_s = 0.5 * (from_s + to_s);
    let lines = pairs.iter().filter_map(|pair| {
        let along = along(pair, slope, middle_s);
        is_borne_out(pair, n_moments(&along)).then(|| Line::new(along))
    });
    let lines: Vec<Line<'_>> = lines.collect();
    let sum = |of: &dyn Fn(f64, f64) -> f64| lines.iter().map(|line| line.sum(of)).sum::<f64>();
    let run = sum(&|time_s, _| time_s * time_s);
    let slope = (run > 0.0).then(|| sum(&|time_s, lag_s| time_s * lag_s) / run)?;
    let rest = sum(&|time_s, lag_s| (lag_s - slope * time_s).powi(2));
    let n_lags: usize = lines.iter().map(|line| line.lags.len()).sum();
    let n_free = n_lags.saturating_sub(lines.len() + 1).max(1);
    let longest = lines.iter().max_by_key(|line| line.lags.len())?;
    Some(Fitted {
        slope,
        error: (rest / n_free as f64 / run).sqrt(),
        late_s: longest.mean_lag_s - slope * longest.mean_s,
        references: lines.iter().map(|line| line.lags[0].reference).collect(),
    })
}

/// A slope with its standard error.
struct Fitted {
    slope: f64,
    error: f64,
    late_s: f64,
    references: BTreeSet<usize>,
}

/// By how much lags may change over a take though all clocks are one, in seconds.
fn beside_the_clock_s(way: Way, n_sources: usize) -> f64 {
    let way_m = match way {
        Way::Hall => HALL_WAY_M,
        Way::Stage => STAGE_WAY_M,
    };
    let cold = speed_of_sound_m_s(USUAL_TEMPERATURE_C);
    let warms_s = way_m / cold - way_m / speed_of_sound_m_s(USUAL_TEMPERATURE_C + WARMS_BY_K);
    let walks_s = if n_sources < NEEDS_SOURCES { WALK_M / cold } else { 0.0 };
    warms_s + walks_s
}
