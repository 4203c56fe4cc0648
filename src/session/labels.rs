//! Names and desk numbers from file names.
//!
//! Takes stems of files (names without extension), gives the name that stood on the desk and its number. Never looks
//! at what a name means.

use super::fold::words;
use super::matching::counts_only;

/// Fewest files that have to share a beginning before it is taken for the session's name and cut off.
const MIN_SHARED: usize = 4;

/// Highest number that is believed to be a channel's: higher ones are dates, or part of the name.
const MAX_NUMBER: usize = 256;

const SEPARATORS: [char; 6] = [' ', '_', '-', '.', ')', '+'];

/// A name and its number on the desk.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Label {
    pub(super) name: String,
    pub(super) number: Option<usize>,
}

/// What a stem says: `02_Kick In` is number 2 and `Kick In`, `CH07` is number 7 and stays `CH07`.
pub(super) fn label(stem: &str) -> Label {
    let stem = stem.trim();
    if counts_only(&words(stem)) {
        return Label { name: stem.to_owned(), number: last_number(stem) };
    }
    match numbered(stem) {
        Some((number, rest)) => Label { name: rest.to_owned(), number: Some(number) },
        None => Label { name: stem.to_owned(), number: None },
    }
}

/// Whether a stem says no more than a number.
pub(super) fn is_bare(stem: &str) -> bool {
    counts_only(&words(stem))
}

/// First desk number of a file of many channels whose name holds a range: 17 of `CH17-32` with 16 channels.
pub(super) fn first_number(stem: &str, n_channels: usize) -> usize {
    let numbers: Vec<usize> = words(stem).iter().filter_map(|word| word.parse().ok()).collect();
    numbers
        .windows(2)
        .find(|pair| pair[0] >= 1 && pair[1] <= MAX_NUMBER && pair[1] + 1 == pair[0] + n_channels)
        .map_or(1, |pair| pair[0])
}

/// Length of the beginning that all stems share up to a separator, in bytes: a session's name before each channel's.
///
/// 0 for fewer than four stems, or if one would be left without a name.
pub(super) fn shared_len(stems: &[&str]) -> usize {
    let Some((first, others)) = stems.split_first() else { return 0 };
    if stems.len() < MIN_SHARED {
        return 0;
    }
    let common = others.iter().fold(first.len(), |len, stem| {
        let same = first.bytes().zip(stem.bytes()).take_while(|(a, b)| a == b).count();
        len.min(same)
    });
    let end = (0..=common).rev().find(|&end| {
        let after_separator = first.get(..end).is_some_and(|head| head.ends_with(SEPARATORS));
        after_separator && stems.iter().all(|stem| stem.len() > end)
    });
    end.unwrap_or(0)
}

/// A stem without the number of its part: `vox_0001` is `vox`.
pub(super) fn without_part_number(stem: &str) -> &str {
    let head = stem.trim_end_matches(|c: char| c.is_ascii_digit());
    let cut = head.trim_end_matches(SEPARATORS);
    if cut.is_empty() || head.len() == stem.len() { stem } else { cut }
}

/// A leading number and what follows: `2 Vox`, `02Vox`, `CH02 Vox`, but not `12string`.
fn numbered(stem: &str) -> Option<(usize, &str)> {
    let start = stem.find(|c: char| c.is_ascii_digit())?;
    let (head, tail) = stem.split_at(start);
    if !head.is_empty()
        && !counts_only(&[head.trim_end_matches(SEPARATORS).to_lowercase(), "1".to_owned()])
    {
        return None;
    }
    let end = tail.find(|c: char| !c.is_ascii_digit())?;
    let (digits, rest) = tail.split_at(end);
    let parted = rest.starts_with(SEPARATORS) || digits.starts_with('0');
    let number: usize = digits.parse().ok()?;
    let name = rest.trim_start_matches(SEPARATORS);
    let believed = parted && (1..=MAX_NUMBER).contains(&number) && !name.is_empty();
    believed.then_some((number, name))
}

fn last_number(stem: &str) -> Option<usize> {
    let number = words(stem).iter().rev().find_map(|word| word.parse().ok())?;
    (1..=MAX_NUMBER).contains(&number).then_some(number)
}
