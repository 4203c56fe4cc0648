//! When each take began, and at which rate and by which clock.
//!
//! Takes takes with their facts, gives start times, the session's rate, and what doesn't fit. Never shifts a take
//! whose time stamp is not believable.

use super::folder::Take;

/// Seconds of a day, where time stamps begin again.
const DAY_S: f64 = 86_400.0;

/// Ratio of the two families of sample rates, 48 000 / 44 100, and how close a ratio of lengths has to be to it.
/// Recorders that start and stop by hand differ by seconds, which is 0.003 of an hour and more.
const FAMILY_RATIO: f64 = 48_000.0 / 44_100.0;
const FAMILY_TOLERANCE: f64 = 0.002;

/// Rate that is preferred if as many channels have another.
const USUAL_RATE_HZ: u32 = 48_000;

/// Sets the start of every take, in seconds from the earliest, and tells what could not be used.
///
/// Takes with a believable stamp are placed by it, if their stretches meet; the others start at 0.
/// `own_clock` tells the takes whose recorder has a clock of its own: its time of day is not trusted.
pub(super) fn align(takes: &mut [Take], own_clock: &[bool]) -> Vec<String> {
    let mut stamps: Vec<(usize, f64)> = takes
        .iter()
        .enumerate()
        .filter(|(idx, _)| !own_clock[*idx])
        .filter_map(|(idx, take)| {
            // 0 is what recorders without a clock write.
            let stamp = take.stamp_samples.filter(|&stamp| stamp > 0)?;
            Some((idx, stamp as f64 / f64::from(take.rate_hz)))
        })
        .collect();
    unwrap_midnight(&mut stamps);
    let Some(first_s) = stamps.iter().map(|&(_, at_s)| at_s).reduce(f64::min) else {
        return Vec::new();
    };
    let longest_s = takes.iter().filter_map(Take::duration_s).fold(0.0, f64::max);
    let mut warnings = Vec::new();
    for (idx, at_s) in stamps {
        let start_s = at_s - first_s;
        if start_s <= longest_s {
            takes[idx].start_s = start_s;
        } else {
            warnings.push(format!(
                "`{}` is stamped {start_s:.0} s later than the first recording, after its end: it is laid at the start",
                takes[idx].label
            ));
        }
    }
    warnings
}

/// Lays stamps after midnight behind those before it, if they lie in the two halves of a day that meet there.
fn unwrap_midnight(stamps: &mut [(usize, f64)]) {
    let latest_s = stamps.iter().map(|&(_, at_s)| at_s).fold(0.0, f64::max);
    for (_, at_s) in stamps {
        if latest_s - *at_s > DAY_S / 2.0 {
            *at_s += DAY_S;
        }
    }
}

/// The rate that most channels have; of equally frequent ones 48 kHz, else the highest.
pub(super) fn session_rate_hz(takes: &[Take]) -> u32 {
    let n_channels = |rate_hz: u32| -> usize {
        takes.iter().filter(|take| take.rate_hz == rate_hz).map(|take| take.n_channels).sum()
    };
    takes
        .iter()
        .map(|take| take.rate_hz)
        .max_by_key(|&rate_hz| (n_channels(rate_hz), rate_hz == USUAL_RATE_HZ, rate_hz))
        .unwrap_or(USUAL_RATE_HZ)
}

/// A take whose length speaks of a wrong clock: its index and its length over the middle length.
///
/// A file of 44.1 kHz that says 48 kHz runs 0.919 times as long, the other way round 1.088 times.
pub(super) fn clock_misfit(takes: &[Take]) -> Option<(usize, f64)> {
    let mut lengths: Vec<(usize, f64)> = takes
        .iter()
        .enumerate()
        .filter_map(|(idx, take)| Some((idx, take.duration_s()?)))
        .filter(|&(_, duration_s)| duration_s > 0.0)
        .collect();
    lengths.sort_by(|a, b| a.1.total_cmp(&b.1));
    // The middle one of the list stands for the session: a wrong clock is the exception.
    let middle_s = lengths.get(lengths.len().checked_sub(1)? / 2)?.1;
    lengths.iter().map(|&(idx, duration_s)| (idx, duration_s / middle_s)).find(|&(_, ratio)| {
        [FAMILY_RATIO, FAMILY_RATIO.recip()]
            .iter()
            .any(|family| (ratio - family).abs() <= FAMILY_TOLERANCE)
    })
}
