//! `deskside sheet`: what a mentor hands on after a review.
//!
//! Reads a review and its marks, writes a sheet, the lead's page or a line-check card. Takes no sound along unless it is asked to.

use std::fs;
use std::path::Path;

use super::args::{Sheet as Arguments, SheetFormat};
use super::{Outcome, excerpts, mark, output, place};
use crate::coach::{Excerpt, Note, Sheet, Stored, line_card};
use crate::error::Error;
use crate::page;
use crate::report::json::SCHEMA;
use crate::report::sheet;

/// Writes the sheet.
pub(super) fn run(arguments: &Arguments) -> Outcome {
    one(arguments).map_err(|error| vec![error])
}

fn one(arguments: &Arguments) -> Result<(), String> {
    let format = format(arguments.format, arguments.out.as_deref())?;
    if let Some(out) = &arguments.out {
        // Before any passage is copied.
        output::refuse_existing(out).map_err(|error| error.sentence())?;
    }
    let path = mark::review_path(&arguments.review);
    let mut stored = open(&path)?;
    if !arguments.audio {
        without_sound(&mut stored);
    }
    let written = if arguments.lead {
        match format {
            SheetFormat::Markdown => sheet::leads(&stored),
            SheetFormat::Html => page::leads(&stored),
        }
    } else if arguments.line_check {
        let card = line_card(&stored);
        match format {
            SheetFormat::Markdown => sheet::line_check(&stored, &card),
            SheetFormat::Html => page::line_check(&stored, &card),
        }
    } else {
        feedback(arguments, &path, &stored, format)?
    };
    match &arguments.out {
        None => place::print(&written),
        Some(out) => {
            output::write_new(out, written.as_bytes()).map_err(|error| error.sentence())?;
            place::print(&format!("written: {}\n", out.display()))
        }
    }
}

/// A review as it was written. What rules of another version said is left out and told.
pub(super) fn open(path: &Path) -> Result<Stored, String> {
    let stored = output::read_text(path).and_then(|text| {
        Stored::read(&text, SCHEMA).map_err(|cause| {
            let hint = "name a review.json that this version has written, or its folder; \
                or review the recordings again";
            Error::new("cannot use", path, cause, hint)
        })
    });
    let stored = stored.map_err(|error| error.sentence())?;
    if !stored.unknown.is_empty() {
        place::complain(
            "warning",
            &format!(
                "`{}` holds findings that this version does not know; they are left out: {}",
                path.display(),
                stored.unknown.join(", ")
            ),
        );
    }
    Ok(stored)
}

/// The way it is written: as asked, else by the ending of the file.
fn format(asked: Option<SheetFormat>, out: Option<&Path>) -> Result<SheetFormat, String> {
    if let Some(format) = asked {
        return Ok(format);
    }
    let Some(out) = out else { return Ok(SheetFormat::Markdown) };
    let ending = out.extension().map(|ending| ending.to_string_lossy().to_lowercase());
    match ending.as_deref() {
        Some("html" | "htm") => Ok(SheetFormat::Html),
        Some("md" | "markdown" | "txt") => Ok(SheetFormat::Markdown),
        _ => Err(Error::new(
            "cannot tell how to write",
            out,
            "its name ends neither in .html nor in .md",
            "choose such an ending, or say --format",
        )
        .sentence()),
    }
}

fn without_sound(stored: &mut Stored) {
    for note in all_notes(stored) {
        note.excerpts.clear();
    }
}

fn all_notes(stored: &mut Stored) -> impl Iterator<Item = &mut Note> {
    stored.notes.iter_mut().chain(&mut stored.mentor).chain(&mut stored.lead)
}

fn feedback(
    arguments: &Arguments,
    path: &Path,
    stored: &Stored,
    format: SheetFormat,
) -> Result<String, String> {
    let folder = path.parent().unwrap_or_else(|| Path::new(""));
    let marks = mark::read(arguments.marks.as_deref(), folder).map_err(|error| error.sentence())?;
    let words = match &arguments.words_file {
        Some(file) => output::read_text(file).map_err(|error| error.sentence())?,
        None => arguments.words.clone().unwrap_or_default(),
    };
    let sheet = Sheet::new(stored, &marks, &arguments.notes, &words).map_err(|error| {
        Error::new("cannot make a sheet of", path, error.to_string(), error.hint()).sentence()
    })?;
    if let Some(out) = arguments.out.as_deref().filter(|_| arguments.audio) {
        let beside = out.parent().unwrap_or_else(|| Path::new(""));
        for excerpt in sheet.notes.iter().flat_map(|prepared| &prepared.note.excerpts) {
            take_along(excerpt, folder, beside).map_err(|error| error.sentence())?;
        }
    }
    Ok(match format {
        SheetFormat::Markdown => sheet::feedback(&sheet),
        SheetFormat::Html => page::feedback(&sheet),
    })
}

/// Copies a passage beside the sheet, where it does not lie there already.
fn take_along(excerpt: &Excerpt, from: &Path, to: &Path) -> Result<(), Error> {
    let (source, target) = (from.join(&excerpt.file), to.join(&excerpt.file));
    let unread = |cause: String| {
        let hint = "leave out --audio, or review the recordings again";
        Error::new("cannot take along", &source, cause, hint)
    };
    if !is_beside(&excerpt.file) {
        return Err(unread("it lies outside the folder of passages".to_owned()));
    }
    let bytes = fs::read(&source).map_err(|cause| unread(cause.to_string()))?;
    match fs::read(&target) {
        Ok(other) if other == bytes => Ok(()),
        Ok(_) => Err(Error::new(
            "will not overwrite",
            &target,
            "a passage of another review has that name",
            "write the sheet into another folder",
        )),
        Err(_) => output::write_whole(&target, &bytes),
    }
}

/// Whether a file is one of the folder of passages: a review from elsewhere must not lead out of it.
fn is_beside(file: &str) -> bool {
    let name = file.strip_prefix(excerpts::FOLDER).and_then(|rest| rest.strip_prefix('/'));
    name.is_some_and(|name| !name.is_empty() && !name.contains(['/', '\\', ':']) && name != "..")
}
