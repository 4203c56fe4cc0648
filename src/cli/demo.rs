//! `deskside demo`: renders the built-in rehearsal and reviews it.

use std::fs;
use std::path::Path;

use super::args::Demo;
use super::{Outcome, place, review};
use crate::demo::{Which, render};
use crate::error::Error;
use crate::history::{Store, weeks};
use crate::report::text;

/// The file that marks a folder as a rendered demo.
const TRUTH_NAME: &str = "truth.json";

/// Renders, then reviews.
pub(super) fn run(arguments: &Demo) -> Outcome {
    one(arguments).map_err(|error| vec![error])
}

fn one(arguments: &Demo) -> Result<(), String> {
    if let Some(file) = &arguments.history {
        return invented_weeks(file);
    }
    let options = &arguments.options;
    let aims = review::prepare(options)?;
    let dir = &arguments.dir;
    make_room(dir).map_err(|error| error.sentence())?;
    let which = if arguments.full { Which::Full } else { Which::Cut };
    let bar = review::bar("rendering", options.quiet);
    let rendered = render(which, dir, &mut |share| review::set(&bar, share));
    bar.finish_and_clear();
    rendered.map_err(|error| error.sentence())?;
    if !options.quiet {
        place::print(&format!(
            "The recordings of this invented rehearsal lie in {};\nwhat was planted in them stands in {}.\n\n",
            dir.display(),
            dir.join(TRUTH_NAME).display()
        ))?;
    }
    review::one(dir, options, &aims, None)
}

/// Writes the invented weeks into a new file.
fn invented_weeks(file: &Path) -> Result<(), String> {
    if file.exists() {
        let hint =
            "name a file that does not exist, so that invented sessions stay apart from real ones";
        return Err(
            Error::new("will not write into", file, "the file exists already", hint).sentence()
        );
    }
    let weeks = weeks();
    let mut store = Store::open(file).map_err(|error| error.sentence())?;
    store.remember_all(&weeks).map_err(|error| error.sentence())?;
    place::print(&format!(
        "{} of an invented team lie in {file}.\nTry: deskside habits --history {file} --operator wren\n",
        text::counted(weeks.len(), "session"),
        file = file.display()
    ))
}

/// Clears an earlier demo out of the way. A folder that holds anything else is left alone.
fn make_room(dir: &Path) -> Result<(), Error> {
    let Ok(mut entries) = fs::read_dir(dir) else { return Ok(()) };
    if entries.next().is_none() {
        return Ok(());
    }
    if !dir.join(TRUTH_NAME).is_file() {
        return Err(Error::new(
            "will not render into",
            dir,
            "the folder holds other files",
            "name a new or empty folder",
        ));
    }
    let stale = |error: std::io::Error| {
        Error::new("cannot clear", dir, error.to_string(), "name another folder")
    };
    for entry in fs::read_dir(dir).map_err(stale)? {
        let path = entry.map_err(stale)?.path();
        let is_ours = path.extension().is_some_and(|ending| ending == "wav")
            || path.file_name().is_some_and(|name| name == "session.toml");
        if is_ours && path.is_file() {
            fs::remove_file(&path).map_err(stale)?;
        }
    }
    Ok(())
}
