//! Where text goes: standard output and standard error, with what they can show.

use std::env;
use std::io::{self, IsTerminal, Write};

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

/// Prints to standard output. A reader that goes away early (`| head`) is no failure.
pub(super) fn print(text: &str) -> Result<(), String> {
    let mut out = io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            Err(format!("cannot print: {error}"))
        }
        _ => Ok(()),
    }
}

/// One line on standard error. There is nowhere to report that even this can't be written.
pub(super) fn complain(kind: &str, sentence: &str) {
    let _ = writeln!(io::stderr().lock(), "{kind}: {}", text::plain(sentence));
}
