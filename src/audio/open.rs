//! Opens a file for reading, or says in one sentence why it is no sound.
//!
//! Takes a path, gives the file with its length and its first bytes. Never opens for writing, never waits on a
//! pipe or a device.

use std::fs::{self, File};
use std::io::{self, Read, Seek, SeekFrom};
use std::path::Path;

use crate::error::{Error, system};

/// First bytes that are looked at.
const HEAD_BYTES: u64 = 512;

/// What all errors here could not do.
pub(super) const CANNOT_READ: &str = "cannot read";

/// A file that was opened and is not empty.
pub(super) struct Opened {
    /// The file, at its begin.
    pub(super) file: File,
    /// Its length, in bytes.
    pub(super) n_bytes: u64,
    /// Its first bytes, at most 512.
    pub(super) head: Vec<u8>,
}

/// Opens a file.
pub(super) fn open(path: &Path) -> Result<Opened, Error> {
    let kind = fs::metadata(path).map_err(|error| io_error(path, &error))?;
    if !kind.is_file() {
        let found = if kind.is_dir() { "a folder" } else { "neither a file nor a folder" };
        return Err(Error::new(
            CANNOT_READ,
            path,
            format!("it is {found}, a sound file is expected"),
            "name a sound file",
        ));
    }
    let mut file = File::open(path).map_err(|error| io_error(path, &error))?;
    let mut head = Vec::new();
    (&mut file)
        .take(HEAD_BYTES)
        .read_to_end(&mut head)
        .and_then(|_| file.seek(SeekFrom::Start(0)))
        .map_err(|error| io_error(path, &error))?;
    if head.is_empty() {
        return Err(Error::new(
            CANNOT_READ,
            path,
            "it is empty (0 bytes)",
            "copy it again from the recorder, or move it out of the folder",
        ));
    }
    Ok(Opened { file, n_bytes: kind.len(), head })
}

/// The error for a failed call to the system.
pub(super) fn io_error(path: &Path, error: &io::Error) -> Error {
    let (cause, hint) = match error.kind() {
        io::ErrorKind::NotFound => ("it does not exist".to_owned(), "check the name"),
        io::ErrorKind::PermissionDenied => (
            "the system does not permit to read it".to_owned(),
            "give yourself the right to read it",
        ),
        _ => (system(error), "copy it again from the recorder"),
    };
    Error::new(CANNOT_READ, path, cause, hint)
}

/// The error for a file whose content is not sound that can be read; `detail` is the decoder's complaint.
pub(super) fn not_sound(path: &Path, head: &[u8], detail: &str) -> Error {
    let holds = |mark: &[u8]| head.windows(mark.len()).any(|window| window == mark);
    let codec = [
        (holds(b"OpusHead"), "Opus"),
        (head.starts_with(b"wvpk"), "WavPack"),
        (head.starts_with(b"DSD ") || head.starts_with(b"FRM8"), "one-bit audio"),
    ];
    if let Some((_, name)) = codec.iter().find(|(found, _)| *found) {
        return Error::new(
            CANNOT_READ,
            path,
            format!("it is {name}, which can't be decoded here"),
            "convert it to WAV or FLAC",
        );
    }
    if is_text(head) {
        return Error::new(
            CANNOT_READ,
            path,
            "it holds text, not sound",
            "move it out of the folder",
        );
    }
    let marked =
        [b"FORM".as_slice(), b"caff", b"fLaC", b"OggS"].iter().any(|m| head.starts_with(m));
    let found = if marked { "it is damaged or cut off" } else { "no sound was found in it" };
    Error::new(
        CANNOT_READ,
        path,
        format!("{found} ({detail})"),
        "check that it plays, copy it again from the recorder, or move it out of the folder",
    )
}

/// Whether the bytes are readable text: no control characters but line ends and tabs.
fn is_text(head: &[u8]) -> bool {
    // A character may be cut by the end of the sample.
    let whole = match std::str::from_utf8(head) {
        Ok(text) => text,
        Err(error) if error.error_len().is_none() => {
            std::str::from_utf8(&head[..error.valid_up_to()]).unwrap_or_default()
        }
        Err(_) => return false,
    };
    !whole.is_empty() && whole.chars().all(|c| !c.is_control() || matches!(c, '\n' | '\r' | '\t'))
}
