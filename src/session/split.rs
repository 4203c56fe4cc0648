//! Which files are parts of one recording.
//!
//! Takes files with their facts in listing order, gives takes: files of a recorder that split a long recording, one
//! after the other, or a single file. Never joins files that sounded at the same time.
//!
//! Two files of one format are joined if the second starts where the first ends by their time stamps, or if their
//! names count on and either the first is as large as recorders let files grow, or both hold more than two channels
//! (a recorder of many channels writes one file at a time; numbered mono files are channels), or several names have the same
//! numbers, and all files of one number are equally long and those of another are not (all tracks were split at one time).

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
    /// After a gap, in seconds.
    Gap(f64),
}

/// Files grouped into takes, in the order of their first parts.
pub(super) fn join(recordings: Vec<Recording>) -> Vec<Joined> {
    let full_series = full_series(&recordings);
    let together = split_together(&recordings);
    let mut takes: Vec<Joined> = Vec::new();
    let mut is_told = false;
    for ((recording, in_full_series), in_step) in
        recordings.into_iter().zip(full_series).zip(together)
    {
        let found = takes.iter_mut().rev().find_map(|take| {
            let last = take.parts.last()?;
            link(last, &recording, in_full_series, in_step).map(|link| (link, take))
        });
        match found {
            Some((link, take)) => {
                let before = take.parts.last().map_or("", |part| part.label.as_str());
                // What holds for all tracks is said of the first.
                let is_together = matches!(link, Link::Together);
                if !(is_together && is_told) {
                    take.warnings.extend(doubt(&link, before, &recording.label));
                }
                is_told |= is_together;
                take.parts.push(recording);
            }
            None => takes.push(Joined { parts: vec![recording], warnings: Vec::new() }),
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
    let counts_on = counts_on(&last.label, &next.label);
    if !counts_on && skeleton(&last.label) != skeleton(&next.label) {
        return None;
    }
    let many = next.facts.n_channels > MAX_SINGLE;
    match gap_s(&last.facts, &next.facts) {
        Some(gap_s) if gap_s.abs() <= tolerance_s(&last.facts) => Some(Link::Sure),
        // Sounded at the same time, or on another night.
        Some(gap_s) if !(0.0..MAX_GAP_S).contains(&gap_s) => None,
        Some(gap_s) => (counts_on || many).then_some(Link::Gap(gap_s)),
        None if counts_on && in_full_series => Some(Link::Sure),
        None if counts_on && in_step => Some(Link::Together),
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

/// Whether the name of a file counts on from another's: one number is higher by one, or `-2` is added to a bare name.
fn counts_on(last: &str, next: &str) -> bool {
    let (Some((last_stem, _)), Some((next_stem, _))) =
        (last.rsplit_once('.'), next.rsplit_once('.'))
    else {
        return false;
    };
    if let Some(added) = next_stem.strip_prefix(last_stem) {
        let number = added.trim_start_matches(['-', '_', ' ', '.', '(']).trim_end_matches(')');
        return number.len() < added.len() && matches!(number.parse::<u32>(), Ok(1 | 2));
    }
    let (last_parts, next_parts) = (numbers(last_stem), numbers(next_stem));
    if last_parts.len() != next_parts.len() {
        return false;
    }
    let mut changed = last_parts.iter().zip(&next_parts).filter(|(a, b)| a != b);
    match (changed.next(), changed.next()) {
        (Some((a, b)), None) => match (a.parse::<u64>(), b.parse::<u64>()) {
            (Ok(a), Ok(b)) => b == a + 1,
            _ => false,
        },
        _ => false,
    }
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
                && counts_on(&last.label, &recordings[next].label)
                && (is_full(last) || is_timed(last, &recordings[next]))
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

/// For each file whether it is a part of a track that was split when at least one other was: both have the same numbers, and the
/// same length for each number, and not all numbers have one length.
fn split_together(recordings: &[Recording]) -> Vec<bool> {
    let mut tracks: Vec<Track<'_>> = Vec::new();
    for (idx, recording) in recordings.iter().enumerate() {
        let (Some((name, number)), Some(n_frames)) =
            (numbered(&recording.label), recording.facts.n_frames)
        else {
            continue;
        };
        let of_track = |track: &&mut Track<'_>| {
            track.name == name
                && is_same_format(&recordings[track.files[0]].facts, &recording.facts)
        };
        if let Some(track) = tracks.iter_mut().find(of_track) {
            track.files.push(idx);
            track.parts.push((number, n_frames));
        } else {
            tracks.push(Track { name, files: vec![idx], parts: vec![(number, n_frames)] });
        }
    }
    let mut in_step = vec![false; recordings.len()];
    for track in &tracks {
        let company = tracks.iter().filter(|other| other.parts == track.parts).count();
        let is_parallel = track.parts.iter().all(|part| part.1 == track.parts[0].1);
        if company > 1 && !is_parallel {
            track.files.iter().for_each(|&idx| in_step[idx] = true);
        }
    }
    in_step
}

/// Files whose names differ by their last number alone, with these numbers and lengths.
struct Track<'a> {
    name: &'a str,
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
