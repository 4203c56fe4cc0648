//! `deskside history`: what is stored, and how to get it out again or erase it.

use std::fmt::Write as _;
use std::io::{self, BufWriter, Write as _};
use std::path::Path;

use super::args::{ExportFormat, History, HistoryPlace, Months};
use super::{Outcome, mark, output, place};
use crate::error::Error;
use crate::history::{Night, Record, Store};
use crate::report::json::SCHEMA;
use crate::report::parquet::{Parquet, Unwritable};
use crate::report::rows;
use crate::report::text;

/// Looks, adds, exports or erases.
pub(super) fn run(arguments: &History) -> Outcome {
    match arguments {
        History::Add { reviews, place } => add(reviews, place),
        History::Show { place } => show(place).map_err(|error| vec![error]),
        History::Export { label, format, out, place } => {
            export(label.as_deref(), *format, out.as_deref(), place).map_err(|error| vec![error])
        }
        History::Keep { months, place } => keep(*months, place).map_err(|error| vec![error]),
        History::Erase { label, place } => erase(label, place).map_err(|error| vec![error]),
    }
}

/// Reads a review as it is to be stored, with the marks beside it.
pub(super) fn record(path: &Path) -> Result<Record, Error> {
    let text = output::read_text(path)?;
    let record = Record::read(&text, SCHEMA).map_err(|cause| {
        Error::new("cannot use", path, cause, "review the recordings again with this version")
    })?;
    Ok(record.with_marks(&mark::beside(path)?))
}

/// Stores every review that can be read; what can't is told at the end.
fn add<P: AsRef<Path>>(reviews: &[P], at: &HistoryPlace) -> Outcome {
    let file = place::history(at.history.as_deref()).map_err(|error| vec![error])?;
    let mut store = Store::open(&file).map_err(|error| vec![error.sentence()])?;
    let mut errors = Vec::new();
    let mut n_stored = 0;
    for path in reviews {
        let stored = record(path.as_ref()).and_then(|record| store.remember(&record));
        match stored {
            Ok(()) => n_stored += 1,
            Err(error) => errors.push(error.sentence()),
        }
    }
    let told = place::print(&format!(
        "stored: {} in {}\n",
        text::counted(n_stored, "session"),
        file.display()
    ));
    errors.extend(told.err());
    if errors.is_empty() { Ok(()) } else { Err(errors) }
}

fn show(at: &HistoryPlace) -> Result<(), String> {
    let (store, file) = open(at)?;
    let summary = store.summary().map_err(|error| error.sentence())?;
    let mut out = format!("{}: {}", file, text::counted(summary.n_sessions, "session"));
    if let Some((first, last)) = &summary.dates {
        let _ = write!(out, ", {first} to {last}");
    }
    out.push('\n');
    for (label, n_sessions) in &summary.labels {
        let label =
            if label.is_empty() { "without a label".to_owned() } else { text::plain(label) };
        let _ = writeln!(out, "  {label}: {}", text::counted(*n_sessions, "session"));
    }
    let n_months = store.kept_months().map_err(|error| error.sentence())?;
    let _ = writeln!(out, "  {}", keeping(n_months));
    place::print(&out)
}

fn export(
    label: Option<&str>,
    format: ExportFormat,
    out: Option<&Path>,
    at: &HistoryPlace,
) -> Result<(), String> {
    let (store, _) = open(at)?;
    if let Some(label) = label {
        known(&store, label)?;
    }
    let line = line(format);
    let Some(path) = out else {
        let Some(line) = line else {
            return Err("Parquet is no text to print (name a file with --out)".to_owned());
        };
        let print = |text: &str| place::print(text).map_err(Failed);
        return texts(&store, label, line, print).map_err(|Failed(error)| error);
    };
    let written = output::refuse_existing(path).and_then(|()| {
        output::write_by(path, |file| {
            let mut file = BufWriter::new(file);
            let failed = |source: io::Error| output::unwritable(path, &source);
            match line {
                None => columns(&store, label, path, &mut file)?,
                Some(line) => texts(&store, label, line, |text| {
                    file.write_all(text.as_bytes()).map_err(failed)
                })?,
            }
            file.flush().map_err(failed)
        })
    });
    written.map_err(|error| error.sentence())
}

/// How an export begins and what it holds of a session, where it is text.
type Line = (Option<fn() -> String>, fn(&Night) -> String);

fn line(format: ExportFormat) -> Option<Line> {
    match format {
        ExportFormat::Sessions => Some((None, rows::session_line)),
        ExportFormat::Jsonl => Some((None, rows::json_lines)),
        ExportFormat::Csv => Some((Some(rows::csv_head), rows::csv)),
        ExportFormat::Parquet => None,
    }
}

/// Hands over an export as text, session by session.
fn texts<E: From<Error>>(
    store: &Store,
    label: Option<&str>,
    (head, line): Line,
    mut write: impl FnMut(&str) -> Result<(), E>,
) -> Result<(), E> {
    if let Some(head) = head {
        write(&head())?;
    }
    store.each_night(label, usize::MAX, |night| write(&line(&night)))
}

/// Writes an export as Parquet.
fn columns(
    store: &Store,
    label: Option<&str>,
    path: &Path,
    to: &mut (impl io::Write + Send),
) -> Result<(), Error> {
    let failed = |Unwritable(cause): Unwritable| {
        Error::new("cannot write", path, cause, "choose another place with --out")
    };
    let mut file = Parquet::new(to).map_err(failed)?;
    store.each_night(label, usize::MAX, |night| file.add(&night).map_err(failed))?;
    file.finish().map_err(failed)
}

fn keep(months: Months, at: &HistoryPlace) -> Result<(), String> {
    let (mut store, file) = open(at)?;
    let n_months = match months {
        Months::Last(n_months) => Some(n_months),
        Months::All => None,
    };
    let n_erased = store.keep(n_months).map_err(|error| error.sentence())?;
    place::print(&format!(
        "{}; erased: {} from {file}\n",
        keeping(n_months),
        text::counted(n_erased, "session")
    ))
}

/// How long sessions are kept, in words.
fn keeping(n_months: Option<u32>) -> String {
    n_months.map_or_else(
        || "sessions are kept".to_owned(),
        |n_months| format!("sessions are kept for {}", text::counted(n_months as usize, "month")),
    )
}

fn erase(label: &str, at: &HistoryPlace) -> Result<(), String> {
    let (mut store, file) = open(at)?;
    known(&store, label)?;
    let n_erased = store.erase(label).map_err(|error| error.sentence())?;
    place::print(&format!("erased: {} from {file}\n", text::counted(n_erased, "session")))
}

fn open(at: &HistoryPlace) -> Result<(Store, String), String> {
    let file = place::history(at.history.as_deref())?;
    let store = Store::open_existing(&file).map_err(|error| error.sentence())?;
    Ok((store, file.display().to_string()))
}

/// Refuses a label without sessions: a slip of the pen must not look like success.
fn known(store: &Store, label: &str) -> Result<(), String> {
    let n_sessions = store.n_sessions_of(label, "").map_err(|error| error.sentence())?;
    if n_sessions == 0 { Err(store.unknown(label).sentence()) } else { Ok(()) }
}

/// A sentence for the user, from the history or from printing.
struct Failed(String);

impl From<Error> for Failed {
    fn from(error: Error) -> Self {
        Self(error.sentence())
    }
}
