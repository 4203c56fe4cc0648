//! `deskside compare`: what changed between two reviews.
//!
//! Reads two reviews, prints what changed and writes it as a page where that is asked for.

use super::args::{Compare, CompareFormat};
use super::{Outcome, mark, output, place, sheet};
use crate::comparison::compare;
use crate::page;
use crate::report::comparison;

/// Compares two reviews.
pub(super) fn run(arguments: &Compare) -> Outcome {
    one(arguments).map_err(|error| vec![error])
}

fn one(arguments: &Compare) -> Result<(), String> {
    let then = sheet::open(&mark::review_path(&arguments.old))?;
    let now = sheet::open(&mark::review_path(&arguments.new))?;
    let found = compare(&then, &now);
    if let Some(file) = &arguments.page {
        output::write_new(file, page::comparison(&found).as_bytes())
            .map_err(|error| error.sentence())?;
    }
    match arguments.format {
        CompareFormat::Json => place::print(&comparison::json(&found)),
        CompareFormat::Table => {
            place::print(&comparison::table(place::look(arguments.no_color), &found))?;
            match &arguments.page {
                Some(file) => place::print(&format!("\nwritten: {}\n", file.display())),
                None => Ok(()),
            }
        }
    }
}
