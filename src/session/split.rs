//! Which files are parts of one recording.
//!
//! Takes files with their facts in listing order, gives takes: files of a recorder that split a long recording, one
//! after the other, or a single file. Never joins files that sounded at the same time.
//!
//! Two files of one format are joined if the second starts where the first ends by their time stamps, or if their
//! names count on and either the first is as large as recorders let files grow, or both hold more than two channels
//! (a recorder of many channels writes one file at a time; numbered mono files are channels), or several names have the same
//! numbers, and all files of one number are equally long and those of another are not (all tracks were split at one time). A part that is
//! missing is told; what follows it keeps its place where other tracks tell it.

use std::collections::BTreeMap;
use std::path::PathBuf;

use crate::audio::FileFacts;

/// A file that can be read.
#[derive(Clone, Debug)]
pub(super) struct Recording {
    pub(super) path: PathBuf,
    /// Relative to the session folder, with `/`.
    pub(super) label: String,
    pub(super) n_bytes: u64,
    pub(super) facts: FileFacts,
}

/// Files that follow each other, and what is doubtful about it.
#[derive(Clone, Debug)]
pub(super) struct Joined {
    pub(super) parts: Vec<Recording>,
    /// Where the first one begins, in frames: after 0 if an earlier part is missing whose length other tracks tell.
    pub(super) start_frames: u64,
    pub(super) warnings: Vec<String>,
}

/// Sizes at which recorders begin a new file: 2 and 4 GiB and the round numbers below, limits of WAV and of FAT32.
const LIMITS_BYTES: [u64; 2] = [1 << 31, 1 << 32];

/// Share of a limit from which a file counts as full: 4 000 000 000 is 0.93 of 4 GiB.
const FULL_SHARE: f64 = 0.9;

/// Tolerance of time stamps, in seconds: some recorders stamp whole seconds.
const STAMP_TOLERANCE_S: f64 = 1.0;

/// Seconds of a day, where time stamps begin again.
const DAY_S: f64 = 86_400.0;

/// Longest gap between two parts, in seconds, before they are taken for different nights.
const MAX_GAP_S: f64 = 6.0 * 3600.0;

/// Most parts that may be missing in a row before a number is taken for another one's.
const MAX_MISSING: u64 = 9;

/// Most channels of a file that a numbered series may hold as channels of its own.
const MAX_SINGLE: usize = 2;

/// How a file follows another.
enum Link {
    /// Without a gap by time stamp, or after a full file.
    Sure,
    /// By number alone.
    Numbered,
    /// As all the other tracks at that time.
    Together,
    /// With parts missing in between.
    Missing,
    /// After a gap, in seconds.
    Gap(f64),
}

/// Files grouped into takes, in the order of their first parts.
pub(super) fn join(recordings: Vec<Recording>) -> Vec<Joined> {
    let full_series = full_series(&recordings);
    let together = split_together(&recordings);
    let mut takes: Vec<Joined> = Vec::new();
    let mut is_told = false;
    for ((recording, in_full_series), step) in recordings.into_iter().zip(full_series).zip(together)
    {
        if let Step::After { n_frames } = step {
            let warnings = vec![format!(
                "a part before `{}` is missing: it is laid where the other tracks have the part of its number",
                recording.label
            )];
            takes.push(Joined { parts: vec![recording], start_frames: n_frames, warnings });
            continue;
        }
        let in_step = step == Step::With;
        let found = takes.iter_mut().rev().find_map(|take| {
            let last = take.parts.last()?;
            link(last, &recording, in_full_series, in_step).map(|link| (link, take))
        });
        match found {
            Some((link, take)) => {
                let before = take.parts.last().map_or("", |part| part.label.as_str());
                // What holds for all tracks is said of the first.
                let is_together = in_step && matches!(link, Link::Together | Link::Missing);
                if !(is_together && is_told) {
                    take.warnings.extend(doubt(&link, before, &recording.label));
                }
                is_told |= is_together;
                take.parts.push(recording);
            }
            None => {
                let warnings = Vec::new();
                takes.push(Joined { parts: vec![recording], start_frames: 0, warnings });
            }
        }
    }
    takes
}

fn doubt(link: &Link, before: &str, after: &str) -> Option<String> {
    match link {
        Link::Sure => None,
        Link::Together | Link::Numbered => Some(format!(
            "`{after}` is taken for the continuation of `{before}` by its number: how long the recorder paused in between is not known"
        )),
        Link::Missing => Some(format!(
            "between `{before}` and `{after}` a part is missing by their numbers: times after it run on without it (look on the recorder for it)"
        )),
        Link::Gap(gap_s) => Some(format!(
            "between `{before}` and `{after}` the recorder paused for {gap_s:.0} s: times after it run on without the pause"
        )),
    }
}

/// How `next` follows `last`, if it does.
fn link(last: &Recording, next: &Recording, in_full_series: bool, in_step: bool) -> Option<Link> {
    if !is_same_format(&last.facts, &next.facts) {
        return None;
    }
    let many = next.facts.n_channels > MAX_SINGLE;
    let gap_s = gap_s(&last.facts, &next.facts);
    // Thousands of files are told apart without a look at their names.
    if gap_s.is_none() && !in_full_series && !in_step && !many {
        return None;
    }
    let missing = missing(&last.label, &next.label);
    let counts_on = missing == Some(0);
    if missing.is_none() && skeleton(&last.label) != skeleton(&next.label) {
        return None;
    }
    match gap_s {
        Some(gap_s) if gap_s.abs() <= tolerance_s(&last.facts) => Some(Link::Sure),
        // Sounded at the same time, or on another night.
        Some(gap_s) if !(0.0..MAX_GAP_S).contains(&gap_s) => None,
        Some(gap_s) => (counts_on || many).then_some(Link::Gap(gap_s)),
        None if counts_on && in_full_series => Some(Link::Sure),
        None if counts_on && in_step => Some(Link::Together),
        None if missing.is_some() && (in_full_series || in_step) => Some(Link::Missing),
        // Two recorders that ran side by side stop together; two takes of one are never equal to the sample.
        None if last.facts.n_frames == next.facts.n_frames => None,
        None => (counts_on && many).then_some(Link::Numbered),
    }
}

fn is_same_format(a: &FileFacts, b: &FileFacts) -> bool {
    let format = |facts: &FileFacts| (facts.n_channels, facts.rate_hz, facts.bits, facts.is_float);
    format(a) == format(b) && a.is_lossy == b.is_lossy
}

/// Time between the end of a file and the start of the next, in seconds; negative if they overlap.
fn gap_s(last: &FileFacts, next: &FileFacts) -> Option<f64> {
    let rate_hz = f64::from(last.rate_hz);
    let end_s = (last.start_samples? + last.n_frames?) as f64 / rate_hz;
    let gap_s = (next.start_samples? as f64 / rate_hz) - end_s;
    // Past midnight stamps begin again. A day is added only where the sum is a small gap.
    Some(if gap_s < -DAY_S / 2.0 { gap_s + DAY_S } else { gap_s })
}

/// How far two stamps may miss each other, in seconds: short files with one start must not look contiguous.
fn tolerance_s(last: &FileFacts) -> f64 {
    last.duration_s().map_or(0.0, |duration_s| STAMP_TOLERANCE_S.min(duration_s / 2.0))
}

/// How many parts are missing where the name of a file counts on from another's: one number is higher, or `-2` is added to
/// a bare name. 0 for the next part, `None` for a name that does not count on.
fn missing(last: &str, next: &str) -> Option<u64> {
    let (last_stem, next_stem) = (last.rsplit_once('.')?.0, next.rsplit_once('.')?.0);
    if let Some(added) = next_stem.strip_prefix(last_stem) {
        let number = added.trim_start_matches(['-', '_', ' ', '.', '(']).trim_end_matches(')');
        let is_next = number.len() < added.len() && matches!(number.parse::<u32>(), Ok(1 | 2));
        return is_next.then_some(0);
    }
    let (last_parts, next_parts) = (numbers(last_stem), numbers(next_stem));
    if last_parts.len() != next_parts.len() {
        return None;
    }
    let mut changed = last_parts.iter().zip(&next_parts).filter(|(a, b)| a != b);
    let (Some((a, b)), None) = (changed.next(), changed.next()) else { return None };
    let (a, b) = (a.parse::<u64>().ok()?, b.parse::<u64>().ok()?);
    b.checked_sub(a)?.checked_sub(1).filter(|&n_missing| n_missing <= MAX_MISSING)
}

/// A name cut into digits and what stands between them.
fn numbers(stem: &str) -> Vec<&str> {
    let mut parts = Vec::new();
    let mut rest = stem;
    while let Some(first) = rest.bytes().next() {
        let is_digit = first.is_ascii_digit();
        let end = rest.find(|c: char| c.is_ascii_digit() != is_digit).unwrap_or(rest.len());
        parts.push(&rest[..end]);
        rest = &rest[end..];
    }
    parts
}

/// A name with all numbers made alike: files that recorders name by the clock.
fn skeleton(label: &str) -> String {
    label.chars().map(|c| if c.is_ascii_digit() { '0' } else { c }).collect()
}

/// For each file whether it stands in a numbered series whose files are all full but the last, which is shorter.
///
/// Files of many channels also count as full if they are as long as the next: some recorders split by time. Numbered
/// mono files of one length are channels, however large they are.
fn full_series(recordings: &[Recording]) -> Vec<bool> {
    let mut in_series = vec![false; recordings.len()];
    let mut taken = vec![false; recordings.len()];
    for first in 0..recordings.len() {
        if taken[first] {
            continue;
        }
        let mut series = vec![first];
        for next in first + 1..recordings.len() {
            let last = &recordings[*series.last().unwrap_or(&first)];
            if is_same_format(&last.facts, &recordings[next].facts)
                && (is_full(last) || is_timed(last, &recordings[next]))
                && missing(&last.label, &recordings[next].label).is_some_and(|n_missing| {
                    n_missing == 0 || is_regular(&series, recordings, next)
                })
            {
                series.push(next);
            }
        }
        let n_bytes = |idx: &usize| recordings[*idx].n_bytes;
        let shrinks = series.first().map(n_bytes) > series.last().map(n_bytes);
        if series.len() > 1 && shrinks {
            for idx in series {
                in_series[idx] = true;
                taken[idx] = true;
            }
        }
    }
    in_series
}

/// Whether a file after a missing one belongs to a series of many channels: its recorder ends files at one length, which two at least
/// have.
fn is_regular(series: &[usize], recordings: &[Recording], next: usize) -> bool {
    let n_frames = |idx: usize| recordings[idx].facts.n_frames;
    let last = series.last().map(|&idx| n_frames(idx));
    let n_alike = series.iter().filter(|&&idx| Some(n_frames(idx)) == last).count();
    recordings[next].facts.n_channels > MAX_SINGLE && (n_alike > 1 || last == Some(n_frames(next)))
}

/// How a file lies among tracks that were split at one time.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Step {
    /// Not at all.
    Alone,
    /// As the parts of the other tracks.
    With,
    /// Its track lacks the part before it; the other tracks tell how many frames lie before it.
    After { n_frames: u64 },
}

/// For each file how it lies among the tracks that were split when at least one other was: both have the same numbers, and the
/// same length for each number, and not all numbers have one length.
fn split_together(recordings: &[Recording]) -> Vec<Step> {
    let tracks = tracks(recordings);
    let is_parallel = |track: &Track| track.parts.iter().all(|part| part.1 == track.parts[0].1);
    let company = |track: &Track| tracks.iter().filter(|other| other.parts == track.parts).count();
    let whole: Vec<&Track> =
        tracks.iter().filter(|track| !is_parallel(track) && company(track) > 1).collect();
    let mut steps = vec![Step::Alone; recordings.len()];
    for track in &tracks {
        let lacks = |other: &&&Track| {
            other.parts.len() > track.parts.len()
                && track.parts.iter().all(|part| other.parts.contains(part))
        };
        if whole.iter().any(|other| other.parts == track.parts) {
            track.files.iter().for_each(|&idx| steps[idx] = Step::With);
        } else if let Some(other) = whole.iter().find(lacks) {
            for (&idx, step) in track.files.iter().zip(lacking(track, other)) {
                // A time stamp tells more.
                if recordings[idx].facts.start_samples.is_none() {
                    steps[idx] = step;
                }
            }
        }
    }
    steps
}

/// How the parts of a track lie that lacks some of another's.
fn lacking(track: &Track, other: &Track) -> Vec<Step> {
    let mut steps = Vec::new();
    let (mut n_frames, mut is_missing) = (0, false);
    for part in &other.parts {
        if track.parts.contains(part) {
            steps.push(if is_missing { Step::After { n_frames } } else { Step::With });
        }
        is_missing = !track.parts.contains(part);
        n_frames += part.1;
    }
    steps
}

/// The tracks that the names of files tell.
fn tracks(recordings: &[Recording]) -> Vec<Track> {
    let mut tracks: Vec<Track> = Vec::new();
    let mut places: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for (idx, recording) in recordings.iter().enumerate() {
        let (Some((name, number)), Some(n_frames)) =
            (numbered(&recording.label), recording.facts.n_frames)
        else {
            continue;
        };
        let named = places.entry(name).or_default();
        let is_same = |&&place: &&usize| {
            is_same_format(&recordings[tracks[place].files[0]].facts, &recording.facts)
        };
        if let Some(&place) = named.iter().find(is_same) {
            tracks[place].files.push(idx);
            tracks[place].parts.push((number, n_frames));
        } else {
            named.push(tracks.len());
            tracks.push(Track { files: vec![idx], parts: vec![(number, n_frames)] });
        }
    }
    tracks
}

/// Files whose names differ by their last number alone, with these numbers and lengths.
struct Track {
    files: Vec<usize>,
    parts: Vec<(u64, u64)>,
}

/// What stands before the number at the end of a name, and the number.
fn numbered(label: &str) -> Option<(&str, u64)> {
    let (stem, _) = label.rsplit_once('.')?;
    let name = stem.trim_end_matches(|c: char| c.is_ascii_digit());
    let number = stem[name.len()..].parse().ok()?;
    (!name.is_empty()).then_some((name, number))
}

/// Whether a file of many channels was ended by the clock: the next one is as long, or it is the last.
fn is_timed(recording: &Recording, next: &Recording) -> bool {
    recording.facts.n_channels > MAX_SINGLE && recording.facts.n_frames >= next.facts.n_frames
}

fn is_full(recording: &Recording) -> bool {
    LIMITS_BYTES.iter().any(|&limit| {
        recording.n_bytes <= limit + (1 << 20)
            && recording.n_bytes as f64 >= FULL_SHARE * limit as f64
    })
}
