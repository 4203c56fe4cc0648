//! What stops a run: what happened, where, the cause, and what to do.
//!
//! Given by `audio`, `session`, `run` and `cli`. A value that can't be measured is not an error.

use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

/// What stops a run, or keeps one file out of it.
#[derive(Debug, thiserror::Error)]
#[error("{what} `{}`", path.display())]
pub struct Error {
    /// What could not be done, without the path: `cannot read`.
    pub what: &'static str,
    /// The file or folder.
    pub path: PathBuf,
    /// Why, in a clause: found and expected both named.
    pub cause: String,
    /// What to do, in a clause that starts with a verb.
    pub hint: String,
}

impl Error {
    /// An error at a path. What the cause and the hint quote from elsewhere may hold line breaks, which become spaces.
    pub fn new(
        what: &'static str,
        path: &Path,
        cause: impl Into<String>,
        hint: impl Into<String>,
    ) -> Self {
        let (cause, hint) = (one_line(cause.into()), one_line(hint.into()));
        Self { what, path: path.to_owned(), cause, hint }
    }

    /// The whole message on one line: `cannot read 'x.wav': cause (hint)`.
    pub fn sentence(&self) -> String {
        format!("{self}: {} ({})", self.cause, self.hint)
    }
}

/// A text without line breaks and other control characters.
fn one_line(text: String) -> String {
    if text.contains(char::is_control) {
        return text.replace(char::is_control, " ");
    }
    text
}

/// What the system says of a failed call, as a clause in plain words where there are some.
pub fn system(error: &io::Error) -> String {
    let known = match error.kind() {
        ErrorKind::NotFound => "it does not exist",
        ErrorKind::PermissionDenied => "there is no permission for it",
        ErrorKind::StorageFull => "the disk is full",
        ErrorKind::QuotaExceeded => "the room that this user may take on the disk is used up",
        ErrorKind::FileTooLarge => "the file would be larger than the system allows",
        ErrorKind::ReadOnlyFilesystem => "the disk can only be read",
        ErrorKind::IsADirectory => "it is a folder, a file is expected",
        ErrorKind::NotADirectory => "it is a file, or lies below one; a folder is expected",
        _ => return format!("the system says: {error}"),
    };
    known.to_owned()
}
