//! A first `session.toml` from what a folder shows.
//!
//! Takes a session, gives the text. What is only likely stands in a comment, so that writing the file states nothing
//! that nobody has checked.

use std::fmt::{self, Write};

use super::channels::SessionChannel;
use super::folder::{Session, Take};
use super::role::Role;
use super::tap::{RoleSource, Side};

/// Confidence from which a role is written as a statement; below, it is a suggestion in a comment (judgement).
const SURE: f64 = 0.8;

/// The text of a first note; it reads back without a fault.
pub fn first_note(session: &Session) -> String {
    Plan(session).to_string()
}

struct Plan<'a>(&'a Session);

impl fmt::Display for Plan<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let session = self.0;
        writeln!(
            f,
            "# Written from what the recordings show. Lines behind a # are guesses or open: check them, and take"
        )?;
        writeln!(
            f,
            "# the # away where they are right. Every other key stands in docs/session.example.toml.\n"
        )?;
        writeln!(f, "name = {}", quoted(&session.name))?;
        match &session.date {
            Some(date) => writeln!(f, "date = {}", quoted(date))?,
            None => writeln!(f, "# date = \"2031-05-06\"")?,
        }
        for (key, value, what) in [
            ("operator", "\"heron\"", "any label; leave it out to store nothing about a person"),
            (
                "tap",
                "\"raw\"",
                "where the inputs were recorded: raw (after the preamp) or processed",
            ),
            ("kind", "\"rehearsal\"", "or performance"),
            ("main_bus", "\"hall\"", "what the recorded main mix feeds: hall, record or stream"),
            ("style", "\"song-led\"", "or speech-led, choir-led, loud-band, acoustic"),
        ] {
            writeln!(f, "# {key} = {value}  # {what}")?;
        }
        let mut written: Vec<(&str, usize)> = Vec::new();
        for channel in &session.channels {
            let take = &session.takes[channel.take_idx];
            // File names that differ only in letters that can't be shown would be one entry.
            if !written.contains(&(&take.label, channel.plane_idx)) {
                written.push((&take.label, channel.plane_idx));
                write_channel(f, session, channel, take)?;
            }
        }
        Ok(())
    }
}

fn write_channel(
    f: &mut fmt::Formatter<'_>,
    session: &Session,
    channel: &SessionChannel,
    take: &Take,
) -> fmt::Result {
    writeln!(f, "\n[[channel]]  # {}", channel.id)?;
    writeln!(f, "file = {}", quoted(&take.label))?;
    if take.n_channels > 1 {
        writeln!(f, "index = {}", channel.plane_idx + 1)?;
    }
    writeln!(f, "name = {}", quoted(&channel.name))?;
    write_role(f, channel)?;
    writeln!(
        f,
        "{}tap = \"{}\"  # raw (after the preamplifier), processed, mix, monitor, effects, room",
        guess(channel.note.tap.is_none()),
        channel.tap.word()
    )?;
    if channel.is_line {
        writeln!(f, "{}line = true", guess(channel.note.line.is_none()))?;
    }
    if let Some(side) = channel.side {
        let word = match side {
            Side::Left => "left",
            Side::Right => "right",
        };
        writeln!(f, "side = \"{word}\"")?;
    }
    if let Some(partner) = channel.partner {
        writeln!(f, "partner = {}", quoted(&session.channels[partner].name))?;
    }
    if let Some(raw) = channel.raw {
        writeln!(f, "processed_of = {}", quoted(&session.channels[raw].name))?;
    }
    Ok(())
}

fn write_role(f: &mut fmt::Formatter<'_>, channel: &SessionChannel) -> fmt::Result {
    if channel.role == Role::Unknown {
        return writeln!(f, "# role = \"…\"  # the name does not tell");
    }
    let stated = channel.role_source == RoleSource::Stated;
    let open = &channel.name_role.alternatives;
    let unsure = !stated && (channel.role_confidence < SURE || !open.is_empty());
    let mut origin = String::new();
    if !stated {
        write!(origin, "  # from the name, confidence {:.2}", channel.role_confidence)?;
        let words: Vec<_> = open.iter().map(|role| role.word()).collect();
        if !words.is_empty() {
            write!(origin, ", may also be {}", words.join(" or "))?;
        }
    }
    writeln!(f, "{}role = \"{}\"{origin}", guess(unsure), channel.role.word())
}

const fn guess(is_guess: bool) -> &'static str {
    if is_guess { "# " } else { "" }
}

/// A text as TOML writes it.
fn quoted(text: &str) -> String {
    toml::Value::from(text).to_string()
}
