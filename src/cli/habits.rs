//! `deskside habits`: what recurs and what changes over the stored sessions.

use std::path::Path;

use super::args::{Habits, HabitsFormat};
use super::{Outcome, output, place};
use crate::coach;
use crate::error::Error;
use crate::history::{Night, Selection, Store, habits, recurring, topic};
use crate::page;
use crate::report::habits::{Page, json, table};
use crate::session::Role;

/// Prints the habits of a label, or of the team.
pub(super) fn run(arguments: &Habits) -> Outcome {
    one(arguments).map_err(|error| vec![error])
}

fn one(arguments: &Habits) -> Result<(), String> {
    let file = place::history(arguments.history.as_deref())?;
    let store = Store::open_existing(&file).map_err(|error| error.sentence())?;
    let operator = arguments.operator.as_deref();
    let nights = nights(&store, arguments).map_err(|error| error.sentence())?;
    let team = store.nights(None, arguments.last.into()).map_err(|error| error.sentence())?;
    let recurring = recurring(&team);
    let selection = Selection {
        role: arguments.role,
        channel: arguments.channel.clone(),
        with_gear: operator.is_none(),
    };
    let habits = habits(&nights, &selection, &recurring);
    let topic = if operator.is_none() { topic(&team, &recurring, coach::is_starter) } else { None };
    let page = Page {
        operator,
        role: selection.role.map(Role::word),
        channel: selection.channel.as_deref(),
        n_sessions: nights.len(),
        dates: nights
            .first()
            .zip(nights.last())
            .map(|(first, last)| (first.day.as_str(), last.day.as_str())),
        habits: &habits,
        recurring: &recurring,
        topic: topic.as_deref(),
    };
    if let Some(file) = &arguments.page {
        write(file, &page).map_err(|error| error.sentence())?;
    }
    place::print(&match arguments.format {
        HabitsFormat::Table => table(place::look(arguments.no_color), &page),
        HabitsFormat::Json => json(&page),
    })
}

/// Writes the page. It takes the place of an earlier one, and of nothing else.
fn write(file: &Path, page: &Page<'_>) -> Result<(), Error> {
    if file.extension().is_none_or(|ending| ending != "html") {
        output::refuse_existing(file)?;
    }
    output::write_whole(file, page::habits::page(page).as_bytes())
}

/// The nights that were asked for. A label that is not stored is told apart from one without habits.
fn nights(store: &Store, arguments: &Habits) -> Result<Vec<Night>, Error> {
    let operator = arguments.operator.as_deref();
    let nights = store.nights(operator, arguments.last.into())?;
    match operator {
        Some(label) if nights.is_empty() => Err(store.unknown(label)),
        _ => Ok(nights),
    }
}
