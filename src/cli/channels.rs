//! `deskside channels`: what a folder holds, from headers alone.

use super::args::Channels;
use super::{Outcome, output, place, review};
use crate::report::channels::found;
use crate::session::note::NOTE_NAME;
use crate::session::{Session, first_note};

/// Prints the channel table; writes a first `session.toml` if asked to.
pub(super) fn run(arguments: &Channels) -> Outcome {
    one(arguments).map_err(|error| vec![error])
}

fn one(arguments: &Channels) -> Result<(), String> {
    let trust = review::trust(arguments.trust_header);
    let session = Session::open(&arguments.folder, trust).map_err(|error| error.sentence())?;
    place::print(&found(place::look(arguments.no_color), &session))?;
    if arguments.write {
        let path = arguments.folder.join(NOTE_NAME);
        output::write_new(&path, first_note(&session).as_bytes())
            .map_err(|error| error.sentence())?;
        place::print(&format!("\nwritten: {}\n", path.display()))?;
    }
    Ok(())
}
