//! The recordings in a folder.
//!
//! Takes a folder, gives the sound files in it and in folders up to two levels below, in the order a person would
//! list them. Never follows a link in circles, never looks into hidden folders or into reviews.

use std::collections::BTreeSet;
use std::ffi::OsStr;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use crate::audio::is_audio_name;
use crate::error::system;

/// How many levels below the folder are looked at.
const MAX_DEPTH: usize = 2;

/// End of the name of a folder that holds a review and its excerpts, which are sound files too.
const REVIEW_SUFFIX: &[u8] = b"-review";

/// What a walk through a folder found.
#[derive(Debug, Default)]
pub(super) struct Found {
    /// Sound files, by name, numbers by value: `2 snare` before `10 bass`.
    pub(super) paths: Vec<PathBuf>,
    /// Folders that could not be looked into, and why.
    pub(super) unread: Vec<(PathBuf, String)>,
}

/// Sound files in a folder.
///
/// # Errors
///
/// If the folder itself can't be listed.
pub(super) fn scan(folder: &Path) -> io::Result<Found> {
    let mut found = Found::default();
    let mut seen = BTreeSet::new();
    // A link to a folder that holds this one would bring in the recordings of its neighbours.
    let real = fs::canonicalize(folder)?;
    let above: Vec<&Path> = real.ancestors().skip(1).collect();
    walk(folder, &above, 0, &mut seen, &mut found)?;
    found.paths.sort_by_cached_key(|path| {
        let path = path.strip_prefix(folder).unwrap_or(path);
        (order(path), path.to_owned())
    });
    Ok(found)
}

/// A key under which numbers sort by value, and `take.wav` before `take-2.wav`.
fn order(path: &Path) -> Vec<String> {
    path.with_extension("")
        .components()
        .map(|part| padded(&part.as_os_str().to_string_lossy()))
        .collect()
}

/// Lower case, every number written with twenty digits.
fn padded(text: &str) -> String {
    let mut key = String::new();
    let mut digits = String::new();
    for c in text.to_lowercase().chars().chain(std::iter::once('\0')) {
        if c.is_ascii_digit() {
            digits.push(c);
            continue;
        }
        if !digits.is_empty() {
            key += &format!("{digits:0>20}");
            digits.clear();
        }
        key.push(c);
    }
    key
}

fn walk(
    folder: &Path,
    above: &[&Path],
    depth: usize,
    seen: &mut BTreeSet<PathBuf>,
    found: &mut Found,
) -> io::Result<()> {
    // The real path tells a folder that a link leads back to.
    let real = fs::canonicalize(folder)?;
    if above.contains(&real.as_path()) {
        found
            .unread
            .push((folder.to_owned(), "it leads to a folder that holds this one".to_owned()));
        return Ok(());
    }
    if !seen.insert(real) {
        return Ok(());
    }
    let mut folders = Vec::new();
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        let path = entry.path();
        if is_left_out(&entry.file_name()) {
            continue;
        }
        // Follows links. What has the name of a recording and is none, like a link that leads nowhere, is told by
        // whoever opens it.
        match fs::metadata(&path) {
            Ok(meta) if meta.is_dir() => folders.push(path),
            _ if is_audio_name(&path) => found.paths.push(path),
            _ => {}
        }
    }
    if depth == MAX_DEPTH {
        return Ok(());
    }
    folders.sort();
    for path in folders {
        if let Err(error) = walk(&path, above, depth + 1, seen, found) {
            found.unread.push((path, system(&error)));
        }
    }
    Ok(())
}

fn is_left_out(name: &OsStr) -> bool {
    let bytes = name.as_encoded_bytes();
    bytes.starts_with(b".") || bytes.ends_with(REVIEW_SUFFIX)
}
