//! What a mentor hands on after a review: the chosen notes with marks and own words, and a card for the next line check.
//!
//! Takes a stored review, marks and wishes; gives plain data for pages. Never words a finding anew, and never picks one that the
//! team has marked as not fitting, on purpose or not theirs, unless it is asked for by name.

use super::advice::Note;
use super::choice::MOST as MOST_NOTES;
use super::marks::{Mark, Marks, Verdict};
use super::rule::Group;
use super::stored::Stored;
use super::wording;
use crate::reading::{Channel, Reading};
use crate::session::{Role, Tap, is_same_name};

/// A note that is asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Wanted {
    /// Id of its rule.
    pub rule: String,
    /// Name or id of one of its channels, where the rule has several notes.
    pub channel: Option<String>,
}

/// Why there is no sheet: the cause and what to do, both as clauses.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SheetError {
    /// The review holds no such finding.
    #[error("it holds no finding of `{wanted}`")]
    NotFound {
        /// What was asked for.
        wanted: String,
        /// Ids of the rules that it has findings of.
        found: Vec<&'static str>,
    },
    /// More notes are asked for than can be taken in.
    #[error("a sheet holds {MOST_NOTES} notes at most, {n_notes} are asked for")]
    TooMany {
        /// How many.
        n_notes: usize,
    },
}

impl SheetError {
    /// What to do.
    pub fn hint(&self) -> String {
        match self {
            Self::NotFound { found, .. } if found.is_empty() => "it has no findings".to_owned(),
            Self::NotFound { found, .. } => format!("its findings are of: {}", found.join(", ")),
            Self::TooMany { .. } => "leave some for another evening".to_owned(),
        }
    }
}

/// A feedback sheet.
#[derive(Clone, Debug)]
pub struct Sheet<'a> {
    /// The review.
    pub stored: &'a Stored,
    /// The notes, in the order in which they are read.
    pub notes: Vec<Prepared<'a>>,
    /// The mentor's own words, a paragraph each.
    pub words: Vec<String>,
}

/// A note with what was said of it.
#[derive(Clone, Debug)]
pub struct Prepared<'a> {
    /// The note.
    pub note: &'a Note,
    /// The mentor's comment, where there is one.
    pub comment: Option<&'a str>,
}

/// What to do until the next time.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// What it is about.
    pub title: &'static str,
    /// Where to: the number and its target.
    pub goal: String,
    /// One exercise of a few minutes.
    pub exercise: &'static str,
    /// A question to talk about.
    pub question: &'static str,
}

impl<'a> Sheet<'a> {
    /// The notes that are asked for; without any, those that the operator got, less what marks put aside.
    ///
    /// # Errors
    ///
    /// If the review has no such finding, or too many are asked for.
    pub fn new(
        stored: &'a Stored,
        marks: &'a Marks,
        wanted: &[Wanted],
        words: &str,
    ) -> Result<Self, SheetError> {
        let notes: Vec<&Note> = if wanted.is_empty() {
            let is_put_aside = |note: &Note| {
                let mark = marks.on(note, &stored.reading);
                mark.is_some_and(|mark| mark.mark != Verdict::Fits)
            };
            stored.notes.iter().filter(|note| !is_put_aside(note)).take(MOST_NOTES).collect()
        } else {
            asked_for(stored, wanted)?
        };
        let prepare = |note: &'a Note| Prepared {
            note,
            comment: marks.on(note, &stored.reading).and_then(comment),
        };
        let words = paragraphs(words);
        Ok(Self { stored, notes: notes.into_iter().map(prepare).collect(), words })
    }

    /// What worked well.
    pub fn strength(&self) -> Option<&'a str> {
        self.stored.strengths.first().map(String::as_str)
    }

    /// What to do next: what the first note asks for.
    pub fn step(&self) -> Option<Step> {
        self.notes.first().map(|prepared| Step::of(prepared.note))
    }
}

impl Step {
    /// What a note asks for.
    pub fn of(note: &Note) -> Self {
        Self {
            title: note.title,
            goal: wording::goal(note.measured.first(), &note.target),
            exercise: note.rule.exercise,
            question: note.rule.question,
        }
    }
}

/// What was said of a note in own words. Of one that does not fit, the comment speaks to the mentor alone.
fn comment(mark: &Mark) -> Option<&str> {
    let comment = mark.comment.trim();
    (mark.mark == Verdict::Fits && !comment.is_empty()).then_some(comment)
}

/// A text cut at its blank lines; a line break within a paragraph is a blank.
fn paragraphs(text: &str) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    let mut is_open = false;
    for line in text.lines().map(str::trim) {
        match found.last_mut().filter(|_| is_open && !line.is_empty()) {
            Some(last) => {
                last.push(' ');
                last.push_str(line);
            }
            None if line.is_empty() => is_open = false,
            None => {
                found.push(line.to_owned());
                is_open = true;
            }
        }
    }
    found
}

fn asked_for<'a>(stored: &'a Stored, wanted: &[Wanted]) -> Result<Vec<&'a Note>, SheetError> {
    let mut notes: Vec<&Note> = Vec::new();
    for one in wanted {
        let is_meant = |note: &&Note| {
            note.rule.id == one.rule
                && one.channel.as_ref().is_none_or(|name| has(note, name, &stored.reading))
        };
        let Some(note) = stored.findings().find(is_meant) else {
            let mut found: Vec<&str> = stored.findings().map(|note| note.rule.id).collect();
            found.sort_unstable();
            found.dedup();
            let channel = one.channel.iter().map(|name| format!("@{name}"));
            let wanted = std::iter::once(one.rule.clone()).chain(channel).collect();
            return Err(SheetError::NotFound { wanted, found });
        };
        if !notes.iter().any(|known| std::ptr::eq(*known, note)) {
            notes.push(note);
        }
    }
    match notes.len() {
        ..=MOST_NOTES => Ok(notes),
        n_notes => Err(SheetError::TooMany { n_notes }),
    }
}

/// Whether a note is about a channel, by its name or id.
fn has(note: &Note, name: &str, reading: &Reading) -> bool {
    note.channels.iter().any(|id| {
        id == name || reading.channel(id).is_some_and(|channel| is_same_name(&channel.name, name))
    })
}

/// What to do in the next line check, channel by channel.
#[derive(Clone, Debug)]
pub struct LineCard<'a> {
    /// The inputs, in desk order.
    pub strips: Vec<Strip<'a>>,
}

/// One input on the card.
#[derive(Clone, Debug)]
pub struct Strip<'a> {
    /// The channel.
    pub channel: &'a Channel,
    /// Suggested change of its gain, in dB; negative for down.
    pub gain_db: Option<f64>,
    /// Whether to check its high-pass.
    pub checks_high_pass: bool,
    /// Whether to check its pad: the input was too hot or too low for its gain.
    pub checks_pad: bool,
    /// Whether it was not heard alone the last time.
    pub was_missed: bool,
    /// What else was found that a line check can settle.
    pub looks: Vec<&'static str>,
}

/// The card for the next line check: what was found on each input before its processing.
pub fn line_card(stored: &Stored) -> LineCard<'_> {
    let inputs = stored.reading.channels.iter().filter(|channel| is_input(channel));
    LineCard { strips: inputs.map(|channel| strip(channel, stored)).collect() }
}

fn is_input(channel: &Channel) -> bool {
    let is_stage = channel.role.is_input() || channel.role == Role::Unknown;
    is_stage && channel.tap == Tap::Raw
}

fn strip<'a>(channel: &'a Channel, stored: &'a Stored) -> Strip<'a> {
    let own: Vec<&Note> =
        stored.findings().filter(|note| note.channels.contains(&channel.id)).collect();
    let gain = own.iter().filter(|note| note.group == Group::Gain);
    let gain_db = gain.flat_map(|note| &note.measured).find_map(|measured| {
        measured.change_db.filter(|_| measured.channels.contains(&channel.id))
    });
    let has_rule = |ids: &[&str]| own.iter().any(|note| ids.contains(&note.rule.id));
    let high_pass = ["hpf-missing"];
    let pad = ["clip-input", "gain-too-hot", "di-hot", "di-low"];
    let is_settled = |note: &&&Note| {
        match note.group {
            Group::Microphone | Group::Polarity | Group::Recording => true,
            // The change of the gain says it already.
            Group::Gain => gain_db.is_none(),
            _ => false,
        }
    };
    Strip {
        channel,
        gain_db,
        checks_high_pass: has_rule(&high_pass),
        checks_pad: has_rule(&pad),
        was_missed: stored.reading.line_check.missing.contains(&channel.id),
        looks: own.iter().filter(is_settled).map(|note| note.title).collect(),
    }
}
