//! Where text goes: standard output and standard error, with what they can show.

use std::env;
use std::io::{self, IsTerminal, Write};
use std::path::{Path, PathBuf};

use crate::error::system;
use crate::report::{Look, text};

/// How text is set on standard output.
pub(super) fn look(no_color: bool) -> Look {
    if !io::stdout().is_terminal() {
        return Look::PIPE;
    }
    let is_plain = no_color
        || env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty())
        || env::var_os("TERM").is_some_and(|term| term == "dumb");
    let width = comfy_table::Table::new().width().map_or(80, usize::from);
    Look::terminal(width, !is_plain)
}

/// The file of the history: the given one, else the usual one of the system.
pub(super) fn history(given: Option<&Path>) -> Result<PathBuf, String> {
    const NAME: &str = "history.sqlite";

    if let Some(path) = given {
        return Ok(path.to_owned());
    }
    let stated = |name: &str| env::var_os(name).filter(|path| !path.is_empty()).map(PathBuf::from);
    let folder = if cfg!(windows) {
        stated("LOCALAPPDATA")
    } else if cfg!(target_os = "macos") {
        stated("HOME").map(|home| home.join("Library/Application Support"))
    } else {
        // The base directory specification of freedesktop.org; a path that is not absolute is none.
        stated("XDG_DATA_HOME")
            .filter(|path| path.is_absolute())
            .or_else(|| stated("HOME").map(|home| home.join(".local/share")))
    };
    folder.map(|folder| folder.join("deskside").join(NAME)).ok_or_else(|| {
        "the data folder of the system is not known (name a file with --history)".to_owned()
    })
}

/// Prints to standard output. A reader that goes away early (`| head`) is no failure.
pub(super) fn print(text: &str) -> Result<(), String> {
    let mut out = io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            Err(format!("cannot print: {}", system(&error)))
        }
        _ => Ok(()),
    }
}

/// One line on standard error. There is nowhere to report that even this can't be written.
pub(super) fn complain(kind: &str, sentence: &str) {
    let _ = writeln!(io::stderr().lock(), "{kind}: {}", text::plain(sentence));
}
