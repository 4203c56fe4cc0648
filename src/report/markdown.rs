//! The review as Markdown, for a wiki, a message or a printer.
//!
//! Takes what the terminal takes, gives Markdown. Never lets a name from outside become markup.

use std::fmt::{self, Display, Formatter};

use super::table::{Extent, Page};
use super::{glossary, number, phrase, spill, text};
use crate::coach::Note;

/// The review as Markdown.
pub fn review(page: &Page<'_>) -> String {
    let mut out = Body(page).to_string();
    let used = glossary::used_in(&out);
    if !used.is_empty() {
        out.push_str("\n## Words\n\n");
        for entry in used {
            out.push_str(&format!("- **{}**: {}\n", entry.word, entry.meaning));
        }
    }
    out
}

/// All but the explained words.
struct Body<'a>(&'a Page<'a>);

impl Display for Body<'_> {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        let Page { reading, advice, extent, .. } = *self.0;
        writeln!(f, "# {}\n", text::markdown(&reading.session.name))?;
        writeln!(f, "{}  ", text::markdown(&phrase::headed(reading)))?;
        writeln!(f, "Recorded: {}.  ", phrase::recorded(reading))?;
        writeln!(f, "{}", text::markdown(&phrase::course(reading)))?;
        let safety = advice.safety_lines.iter().map(|line| {
            let who = phrase::channels(reading, &line.channels);
            if who.is_empty() { line.text.to_owned() } else { format!("{who}: {}", line.text) }
        });
        list(f, "Safety first", safety)?;
        list(f, "Worked well", advice.strengths.iter().map(|strength| strength.sentence.clone()))?;
        writeln!(f, "\n## Listen and try\n")?;
        if advice.notes.is_empty() {
            writeln!(f, "No note today.")?;
        }
        for (at, note) in advice.notes.iter().enumerate() {
            self.note(f, at + 1, note)?;
        }
        let focus = advice.focus.iter().map(|focus| {
            let kept = if focus.is_kept { format!(" {}", phrase::KEPT) } else { String::new() };
            format!("{} Noticed by: {}.{kept}", focus.exercise, focus.noticed.trim_end_matches('.'))
        });
        list(f, "Focus for next time", focus)?;
        let sentences = |notes: &[Note]| -> Vec<String> {
            notes.iter().map(|note| format!("{} ({})", note.sentence, note.rule.id)).collect()
        };
        list(f, "For the team lead: hall, gear, recording", sentences(&advice.lead).into_iter())?;
        if extent == Extent::All {
            list(f, "For the mentor: other findings", sentences(&advice.mentor).into_iter())?;
        }
        if self.0.spill {
            writeln!(f, "\n## {}\n\n{}", spill::TITLE, spill::markdown(reading))?;
        }
        let reasons = advice
            .not_judged
            .iter()
            .map(|entry| format!("{}: {}", entry.reason, entry.rules.join(", ")));
        list(f, "Not judged", reasons.chain(phrase::marked(advice)))?;
        list(f, "About the recording", reading.warnings.iter().cloned())
    }
}

impl Body<'_> {
    fn note(&self, f: &mut Formatter<'_>, number: usize, note: &Note) -> fmt::Result {
        let reading = self.0.reading;
        let gap = if number > 1 { "\n" } else { "" };
        writeln!(f, "{gap}### {number}. {} ({})\n", note.title, phrase::severity(note.severity))?;
        writeln!(f, "{}\n", text::markdown(&note.sentence))?;
        if !note.channels.is_empty() {
            writeln!(
                f,
                "- Channel: {}",
                text::markdown(&phrase::channels(reading, &note.channels))
            )?;
        }
        for measured in &note.measured {
            writeln!(f, "- Measured: {}", text::markdown(&phrase::measured(reading, measured)))?;
        }
        writeln!(f, "- Target: {}", text::markdown(&phrase::target(&note.target)))?;
        let places: Vec<String> = note.evidence.iter().map(|span| number::stretch(*span)).collect();
        if !places.is_empty() {
            writeln!(f, "- Listen at: {}", text::listed(&places))?;
        }
        for excerpt in &note.excerpts {
            let what = text::markdown(&phrase::excerpt(excerpt));
            writeln!(f, "- Hear it: [{what}]({})", excerpt.file)?;
        }
        if let Some(recurred) = note.recurred {
            writeln!(f, "- Before: {}", recurred.words())?;
        }
        writeln!(f, "- Why: {}", note.why)?;
        for advice in &note.advice {
            writeln!(f, "- Try: {}", text::markdown(advice))?;
        }
        writeln!(f, "- Sure: {}; more: `deskside explain {}`", note.sure, note.rule.id)
    }
}

/// A section with a list, left out where there is nothing to list.
fn list(f: &mut Formatter<'_>, title: &str, items: impl Iterator<Item = String>) -> fmt::Result {
    let mut items = items.peekable();
    if items.peek().is_none() {
        return Ok(());
    }
    writeln!(f, "\n## {title}\n")?;
    items.try_for_each(|item| writeln!(f, "- {}", text::markdown(&item)))
}
