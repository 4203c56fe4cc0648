//! Reading `session.toml`.
//!
//! Takes the file, gives the note or one sentence that names the line, the key and what to write instead.

use std::path::Path;

use super::check::check;
use super::keys::SessionNote;
use super::near::nearest;
use crate::error::{Error, system};

/// Name of the note at the root of a session folder.
pub const NOTE_NAME: &str = "session.toml";

/// Why a note can't be used: the cause and what to do.
pub(super) struct Trouble {
    pub(super) cause: String,
    pub(super) hint: String,
}

/// Reads the note of a session folder; `None` if there is none.
///
/// # Errors
///
/// If the file can't be read, is no UTF-8 text, or [`parse`] finds fault with it.
pub fn read(folder: &Path) -> Result<Option<SessionNote>, Error> {
    let path = folder.join(NOTE_NAME);
    match std::fs::read(&path) {
        Ok(bytes) => match String::from_utf8(bytes) {
            Ok(text) => parse(&text, &path).map(Some),
            Err(_) => Err(Error::new(
                "cannot read",
                &path,
                "it is no UTF-8 text",
                "save it again as UTF-8 in your editor",
            )),
        },
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(None),
        Err(error) => Err(Error::new(
            "cannot read",
            &path,
            system(&error),
            "make the file readable, or move it out of the folder",
        )),
    }
}

/// Reads the text of a note; `path` is named in errors.
///
/// # Errors
///
/// If the text is no TOML, or a key is unknown, of the wrong kind or out of range.
pub fn parse(text: &str, path: &Path) -> Result<SessionNote, Error> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let fault =
        |trouble: Trouble| Error::new("cannot understand", path, trouble.cause, trouble.hint);
    let note: SessionNote = toml::from_str(text).map_err(|error| fault(explain(&error, text)))?;
    check(&note).map_err(fault)?;
    Ok(note)
}

/// The parser's complaint in the words of an operator.
fn explain(error: &toml::de::Error, text: &str) -> Trouble {
    let message = error.message();
    let at = error.span().map_or(0, |span| span.start.min(text.len()));
    let line = 1 + text.as_bytes()[..at].iter().filter(|&&b| b == b'\n').count();
    let source = text.lines().nth(line - 1).unwrap_or_default();
    let key = source.split_once('=').map_or("", |(key, _)| key.trim());
    let place = match key {
        "" => format!("line {line}"),
        key => format!("line {line}, key `{key}`"),
    };
    let quoted: Vec<&str> = message.split('`').skip(1).step_by(2).collect();
    match quoted.split_first() {
        Some((word, known)) if message.starts_with("unknown field") => Trouble {
            cause: format!("line {line}: there is no key `{word}`"),
            hint: choice(word, known),
        },
        Some((word, known)) if message.starts_with("unknown variant") => {
            Trouble { cause: format!("{place}: `{word}` is not known"), hint: choice(word, known) }
        }
        Some((word, _)) if message.starts_with("missing field") => Trouble {
            cause: format!("line {line}: the key `{word}` is missing"),
            hint: format!("add a line `{word} = …`"),
        },
        _ => match (message.split_once(", expected "), message.split_once(", write ")) {
            (_, Some((cause, hint))) => {
                Trouble { cause: format!("{place}: {cause}"), hint: format!("write {hint}") }
            }
            (Some((cause, wanted)), _) if is_misfit(message) => Trouble {
                cause: format!("{place}: {}", cause.replace("invalid type: ", "found ")),
                hint: format!("write {}", plain(wanted)),
            },
            _ => Trouble {
                cause: format!("{place}: {}", message.replace('\n', ", ")),
                hint: "compare the line with docs/session.example.toml".to_owned(),
            },
        },
    }
}

/// Whether the value is well-formed and of the wrong kind; else the text is no TOML.
fn is_misfit(message: &str) -> bool {
    ["invalid type", "invalid value", "invalid length"].iter().any(|kind| message.starts_with(kind))
}

/// What to write instead of a word that is not known.
fn choice(word: &str, known: &[&str]) -> String {
    nearest(word, known).map_or_else(
        || format!("write one of {}", known.join(", ")),
        |near| format!("write `{near}`"),
    )
}

/// A kind of value in plain words.
fn plain(wanted: &str) -> String {
    match wanted {
        "f64" | "a float" => "a number".to_owned(),
        "usize" | "u32" | "u64" | "an integer" => "a whole number from 1".to_owned(),
        "a boolean" => "true or false".to_owned(),
        "a string" => "a text in quotes".to_owned(),
        "a sequence" => "a list in square brackets".to_owned(),
        "an array of length 3" | "fewer elements in array" => "three numbers".to_owned(),
        other => other.to_owned(),
    }
}
