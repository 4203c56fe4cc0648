//! What a mentor hands on, as Markdown: the feedback sheet, the lead's page, the card for the next line check.
//!
//! Takes what is in a sheet, gives text for a message, a wiki or an editor. The page puts a sheet together from the same pieces.
//! Never lets a name from outside become markup, and never links sound unless it is asked to.

use std::fmt::Write as _;

use serde::Serialize;

use super::{glossary, lead, number, phrase, text};
use crate::coach::{Excerpt, LineCard, Note, SafetyLine, Sheet, Step, Stored, Strip};
use crate::reading::Reading;
use crate::unit::Unit;

/// Places to listen to beside a note, at most.
const MOST_PLACES: usize = 3;

/// What stands where the review names no strength.
pub const NO_STRENGTH: &str = "(one thing that went well, with its time)";

/// How to work through a line-check card, in the order that spares ears and loudspeakers.
pub const LINE_CHECK: [&str; 4] = [
    "One input after the other, heard alone for 2 s or more, before the band plays.",
    "Gain up: fader and sends down first, then the gain, then the sends back slowly.",
    "Mute before plugging, unplugging, switching phantom power or changing a wireless pack; nobody listens by in-ears meanwhile.",
    "What hums, tingles or smells is not touched: switch off at the socket if that is safe, and call a licensed electrician.",
];

/// Where the suggestions of a card come from.
pub const FROM_REVIEW: &str =
    "Suggested from the review of one evening; ears and the gain meter decide.";

/// A sheet in the pieces that it is put together from.
#[derive(Clone, Debug, Serialize)]
pub struct Pieces {
    /// All that stands above the notes.
    pub head: String,
    /// The notes.
    pub notes: Vec<Piece>,
    /// What stands in place of notes where there are none.
    pub none: String,
    /// All that stands below.
    pub foot: String,
    /// Words of the trade in the head.
    pub head_words: Vec<&'static str>,
    /// All words of the trade, explained.
    pub words: Vec<Word>,
}

/// A word of the trade.
#[derive(Clone, Debug, Serialize)]
pub struct Word {
    /// The word.
    pub word: &'static str,
    /// Its line in the list of words.
    pub line: String,
}

/// One note.
#[derive(Clone, Debug, Serialize)]
pub struct Piece {
    /// Id of its rule.
    pub rule: String,
    /// What its channels are called in marks.
    pub channels: Vec<String>,
    /// Its title.
    pub title: String,
    /// What it says.
    pub body: String,
    /// What it asks for next, where it is the first.
    pub step: String,
    /// Words of the trade in title and body.
    pub words: Vec<&'static str>,
    /// The same in the next step.
    pub step_words: Vec<&'static str>,
}

/// A feedback sheet; it links the passages that its notes name.
pub fn feedback(sheet: &Sheet<'_>) -> String {
    let reading = &sheet.stored.reading;
    let mut out = head(reading, &sheet.stored.safety_lines, sheet.strength());
    if sheet.notes.is_empty() {
        out.push_str(&none());
    }
    for (at, prepared) in sheet.notes.iter().enumerate() {
        let piece = piece(prepared.note, &prepared.note.excerpts, reading);
        let _ = write!(out, "### {}. {}\n\n{}", at + 1, piece.title, piece.body);
        if let Some(comment) = prepared.comment {
            let _ = writeln!(out, "- From the mentor: {}", text::markdown(comment));
        }
        out.push('\n');
    }
    if !sheet.words.is_empty() {
        out.push_str("## From the mentor\n\n");
        for paragraph in &sheet.words {
            let _ = writeln!(out, "{}\n", text::markdown(paragraph));
        }
    }
    if let Some(step) = sheet.step() {
        out.push_str(&next(&step));
    }
    out = with_words(out);
    out.push_str(&foot());
    out
}

/// The pieces of a sheet over some notes, without sound.
pub fn pieces(
    reading: &Reading,
    safety_lines: &[SafetyLine],
    strength: Option<&str>,
    notes: &[Note],
) -> Pieces {
    let head = head(reading, safety_lines, strength);
    let notes: Vec<Piece> = notes.iter().map(|note| piece(note, &[], reading)).collect();
    let all = notes.iter().flat_map(|piece| [piece.body.as_str(), &piece.title, &piece.step]);
    let all: Vec<&str> = std::iter::once(head.as_str()).chain(all).collect();
    let words = glossary::used_in(&all.join("\n"))
        .into_iter()
        .map(|entry| Word { word: entry.word, line: explained(entry) });
    Pieces {
        words: words.collect(),
        head_words: used(&head),
        none: none(),
        foot: foot(),
        head,
        notes,
    }
}

fn head(reading: &Reading, safety_lines: &[SafetyLine], strength: Option<&str>) -> String {
    let mut out = format!(
        "# Feedback sheet: {}\n\n{}\n\n",
        text::markdown(&reading.session.name),
        text::markdown(&phrase::headed(reading))
    );
    out.push_str(&safety(reading, safety_lines));
    let strength = text::markdown(strength.unwrap_or(NO_STRENGTH));
    let _ = write!(out, "## Worked well\n\n{strength}\n\n## Listen and try\n\n");
    out
}

fn safety(reading: &Reading, lines: &[SafetyLine]) -> String {
    let mut out = String::new();
    for (at, line) in lines.iter().enumerate() {
        if at == 0 {
            out.push_str("## Safety first\n\n");
        }
        let who = text::markdown(&phrase::channels(reading, &line.channels));
        let who = if who.is_empty() { who } else { format!("**{who}.** ") };
        let _ = writeln!(out, "{who}{}\n", text::markdown(line.text));
    }
    out
}

fn none() -> String {
    "No note today.\n\n".to_owned()
}

fn piece(note: &Note, excerpts: &[Excerpt], reading: &Reading) -> Piece {
    let mut body = format!("{}\n\n", text::markdown(&text::plain(&note.sentence)));
    let _ = writeln!(body, "- Why it matters: {}", text::markdown(note.why));
    if let Some(first) = note.advice.first() {
        let _ = writeln!(body, "- Try first: {}", text::markdown(first));
    }
    let places: Vec<String> =
        note.evidence.iter().take(MOST_PLACES).map(|span| number::stretch(*span)).collect();
    if !places.is_empty() {
        let who = phrase::channels(reading, &note.channels);
        let who = if who.is_empty() { who } else { format!(", {}", text::markdown(&who)) };
        let _ = writeln!(body, "- Listen at: {}{who}", text::listed(&places));
    }
    for excerpt in excerpts {
        let what = text::markdown(&phrase::excerpt(excerpt));
        let _ = writeln!(body, "- Hear it: [{what}]({})", excerpt.file);
    }
    let _ = writeln!(body, "- How sure: {}", note.sure);
    let step = next(&Step::of(note));
    Piece {
        rule: note.rule.id.to_owned(),
        channels: note.names(reading),
        title: note.title.to_owned(),
        words: used(&format!("{}\n{body}", note.title)),
        step_words: used(&step),
        body,
        step,
    }
}

fn next(step: &Step) -> String {
    format!(
        "## Next step\n\n**{}**: {}.\n\n- Exercise: {}\n- To talk about: {}\n\n",
        step.title,
        text::markdown(&step.goal),
        text::markdown(step.exercise),
        text::markdown(step.question)
    )
}

/// What belongs below every sheet.
pub const FOOT: &str = "Numbers point at places to listen to; ears decide. This is no safety device and no legal measurement of level.";

fn foot() -> String {
    format!("{FOOT}\n")
}

/// The lead's page.
pub fn leads(stored: &Stored) -> String {
    let reading = &stored.reading;
    let mut out = format!(
        "# For the team lead: {}\n\n{}\n\n",
        text::markdown(&reading.session.name),
        text::markdown(&phrase::headed(reading))
    );
    out.push_str(&safety(reading, &stored.safety_lines));
    out.push_str("## Hall, gear and repairs\n\n");
    if stored.lead.is_empty() {
        out.push_str("Nothing was found.\n\n");
    }
    for note in &stored.lead {
        let _ = writeln!(out, "### {}\n\n{}\n", note.title, text::markdown(&note.sentence));
        for step in &note.advice {
            let _ = writeln!(out, "- {}", text::markdown(step));
        }
        let _ = writeln!(out, "- How sure: {}\n", note.sure);
    }
    list(&mut out, "Level", &lead::levels(reading));
    let in_the_hall = lead::levels_in_the_hall(reading);
    if !in_the_hall.is_empty() {
        list(&mut out, "In the hall", &in_the_hall);
    }
    let _ = writeln!(out, "{}\n", lead::what_levels_are(reading));
    if let Some(room) = &reading.room {
        list(&mut out, "The hall", &lead::hall(room));
    }
    list(&mut out, "How complete the recording is", &lead::complete(reading));
    let (title, topic) = lead::topic(&stored.notes);
    let title = title.map_or_else(String::new, |title| format!("**{title}**: "));
    let _ = writeln!(out, "## Topic for training\n\n{title}{topic}\n");
    let _ = writeln!(out, "{}\n", lead::told(&stored.notes));
    let _ = writeln!(out, "## Before money is spent\n\n{}\n", lead::SPENDING);
    with_words(out)
}

fn list(out: &mut String, title: &str, items: &[String]) {
    let _ = writeln!(out, "## {title}\n");
    for item in items {
        let _ = writeln!(out, "- {}", text::markdown(item));
    }
    out.push('\n');
}

/// A text with the words of the trade that it uses explained at its end.
fn with_words(mut out: String) -> String {
    let used = glossary::used_in(&out);
    if !used.is_empty() {
        out.push_str("## Words\n\n");
        for entry in used {
            out.push_str(&explained(entry));
        }
        out.push('\n');
    }
    out
}

fn explained(entry: &glossary::Entry) -> String {
    format!("- **{}**: {}\n", entry.word, entry.meaning)
}

/// Words of the trade in a text.
fn used(text: &str) -> Vec<&'static str> {
    glossary::used_in(text).into_iter().map(|entry| entry.word).collect()
}

/// What the gain of an input is to do: `up 9 dB`, `down 3 dB`, or nothing.
pub fn gain(strip: &Strip<'_>) -> String {
    match strip.gain_db {
        Some(gain_db) if gain_db > 0.0 => {
            format!("up {}", number::whole_with_unit(gain_db, Unit::Db))
        }
        Some(gain_db) => format!("down {}", number::whole_with_unit(-gain_db, Unit::Db)),
        None => String::new(),
    }
}

/// What else to look at on an input, in a phrase.
pub fn looks(strip: &Strip<'_>) -> String {
    let missed = strip.was_missed.then(|| "not heard alone last time".to_owned());
    let titles = strip.looks.iter().map(|title| text::lowered(title));
    missed.into_iter().chain(titles).collect::<Vec<_>>().join("; ")
}

/// The card for the next line check.
pub fn line_check(stored: &Stored, card: &LineCard<'_>) -> String {
    let reading = &stored.reading;
    let mut out = format!(
        "# Line check\n\nAfter {}, {}\n\n",
        text::markdown(&reading.session.name),
        text::markdown(&phrase::headed(reading))
    );
    for (at, line) in LINE_CHECK.iter().enumerate() {
        let _ = writeln!(out, "{}. {line}", at + 1);
    }
    out.push_str(
        "\n| heard | channel | carries | gain | high-pass | pad | battery | look at |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    for strip in &card.strips {
        let check = |is_due: bool| if is_due { "check" } else { "" };
        let _ = writeln!(
            out,
            "| ☐ | {} | {} | {} | {} | {} | ☐ | {} |",
            text::markdown(&phrase::named(strip.channel, 24)),
            strip.channel.role.word(),
            gain(strip),
            check(strip.checks_high_pass),
            check(strip.checks_pad),
            looks(strip)
        );
    }
    let _ = writeln!(out, "\n{FROM_REVIEW}");
    out
}
