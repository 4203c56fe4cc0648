//! Files that appear whole or not at all, and how messages reach the user.

use std::fs;
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

use crate::error::{Error, system};

/// Writes a file beside its final name and moves it there, so that no reader ever sees half of it.
///
/// # Errors
///
/// If the folder or the file can't be written; nothing is left behind then.
pub(super) fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), Error> {
    write_by(path, |file| file.write_all(bytes).map_err(|source| unwritable(path, &source)))
}

/// The same, where the content comes piece by piece from `write`.
///
/// # Errors
///
/// The same, and what `write` gives.
pub(super) fn write_by(
    path: &Path,
    write: impl FnOnce(&mut fs::File) -> Result<(), Error>,
) -> Result<(), Error> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    let folder = folder.unwrap_or_else(|| Path::new("."));
    let made_folder = !folder.exists();
    fs::create_dir_all(folder).map_err(|source| unwritable(folder, &source))?;
    let mut half_name = path.as_os_str().to_owned();
    half_name.push(format!(".{}.part", std::process::id()));
    let half = Path::new(&half_name);
    let failed = |source: std::io::Error| unwritable(path, &source);
    let written = fs::File::create(half).map_err(failed).and_then(|mut file| {
        write(&mut file)?;
        file.sync_all().and_then(|()| fs::rename(half, path)).map_err(failed)
    });
    if written.is_err() {
        // The first failure is the one to report; leftovers may already be gone.
        let _ = fs::remove_file(half);
        if made_folder {
            let _ = fs::remove_dir(folder);
        }
    }
    written
}

/// Creates a file that must not exist yet and writes it whole.
///
/// # Errors
///
/// If it exists already, or can't be written.
pub(super) fn write_new(path: &Path, bytes: &[u8]) -> Result<(), Error> {
    refuse_existing(path)?;
    write_whole(path, bytes)
}

/// Refuses a path where a file is already.
///
/// # Errors
///
/// If there is one.
pub(super) fn refuse_existing(path: &Path) -> Result<(), Error> {
    if path.exists() {
        return Err(Error::new(
            "will not overwrite",
            path,
            "the file exists already",
            "move it away first, or edit it by hand",
        ));
    }
    Ok(())
}

/// Reads a text file that the user named.
///
/// # Errors
///
/// If it can't be read or is not UTF-8.
pub(super) fn read_text(path: &Path) -> Result<String, Error> {
    fs::read_to_string(path).map_err(|source| {
        let cause = match source.kind() {
            ErrorKind::NotFound => "there is no such file".to_owned(),
            ErrorKind::InvalidData => "the file is not UTF-8 text".to_owned(),
            _ => system(&source),
        };
        Error::new("cannot read", path, cause, "check the path and the permissions")
    })
}

/// The folders in a folder, by name; hidden ones left out.
///
/// # Errors
///
/// If the folder can't be listed.
pub(super) fn folders_in(folder: &Path) -> Result<Vec<PathBuf>, Error> {
    let unlisted = |source: std::io::Error| {
        Error::new("cannot list", folder, system(&source), "check the path and the permissions")
    };
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).map_err(unlisted)? {
        let path = entry.map_err(unlisted)?.path();
        let is_hidden =
            path.file_name().is_some_and(|name| name.as_encoded_bytes().starts_with(b"."));
        if path.is_dir() && !is_hidden {
            found.push(path);
        }
    }
    found.sort();
    Ok(found)
}

/// A file or folder that can't be written.
pub(super) fn unwritable(path: &Path, source: &std::io::Error) -> Error {
    Error::new("cannot write", path, system(source), "make room there, or choose another place")
}
