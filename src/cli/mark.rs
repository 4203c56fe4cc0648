//! `deskside mark`: what the team says of a note.
//!
//! Writes `marks.json` beside the review, the same file that the page saves. A review reads it the next time.

use std::path::{Path, PathBuf};

use serde::Deserialize;

use super::args::{Mark as Arguments, Said};
use super::review::REVIEW_NAME;
use super::{Outcome, output, place};
use crate::coach::{Mark, Marks, Verdict, called};
use crate::error::Error;
use crate::session::is_same_name;

/// The file of marks in the folder of a review.
const NAME: &str = "marks.json";

/// What has to be known of a review to mark it.
#[derive(Debug, Deserialize)]
struct Review {
    channels: Vec<Channel>,
    notes: Vec<Note>,
    mentor: Vec<Note>,
    lead: Vec<Note>,
    hidden: Vec<Note>,
}

#[derive(Debug, Deserialize)]
struct Channel {
    id: String,
    name: String,
}

#[derive(Debug, Deserialize)]
struct Note {
    rule: String,
    channels: Vec<String>,
}

/// Adds the mark.
pub(super) fn run(arguments: &Arguments) -> Outcome {
    one(arguments).map_err(|error| vec![error])
}

fn one(arguments: &Arguments) -> Result<(), String> {
    let review_path = review_path(&arguments.review);
    let review = open(&review_path).map_err(|error| error.sentence())?;
    let channels = review
        .named(arguments)
        .map_err(|(cause, hint)| Error::new("cannot mark", &review_path, cause, hint).sentence())?;
    let file = review_path.with_file_name(NAME);
    let mut marks = beside(&review_path).map_err(|error| error.sentence())?;
    let mark = verdict(arguments.mark);
    marks.set(Mark {
        rule: arguments.rule.clone(),
        channels: channels.clone(),
        mark,
        comment: arguments.comment.clone(),
    });
    output::write_whole(&file, marks.to_json().as_bytes()).map_err(|error| error.sentence())?;
    let who =
        if channels.is_empty() { String::new() } else { format!(" ({})", channels.join(", ")) };
    place::print(&format!(
        "{}{who}: {}. Written to {}; the next review reads it.\n",
        arguments.rule,
        mark.word(),
        file.display()
    ))
}

/// The marks that a review is to heed: those of a named file, else those beside the review, if there are any.
pub(super) fn read(named: Option<&Path>, out: &Path) -> Result<Marks, Error> {
    named.map_or_else(|| beside(&out.join(REVIEW_NAME)), parse)
}

/// The marks beside a review; none where there is no file of them.
pub(super) fn beside(review: &Path) -> Result<Marks, Error> {
    let file = review.with_file_name(NAME);
    if file.is_file() { parse(&file) } else { Ok(Marks::default()) }
}

fn parse(path: &Path) -> Result<Marks, Error> {
    let text = output::read_text(path)?;
    Marks::parse(&text).map_err(|cause| {
        let hint = "save the marks again from the page, or move the file away";
        Error::new("cannot use", path, cause.to_string(), hint)
    })
}

/// The `review.json` that is meant: the file itself, or the one in a folder.
pub(super) fn review_path(named: &Path) -> PathBuf {
    if named.is_dir() { named.join(REVIEW_NAME) } else { named.to_owned() }
}

fn open(path: &Path) -> Result<Review, Error> {
    let text = output::read_text(path)?;
    serde_json::from_str(&text).map_err(|cause| {
        let hint = "name a review.json that this version has written, or its folder";
        Error::new("cannot read", path, format!("it is no review ({cause})"), hint)
    })
}

const fn verdict(said: Said) -> Verdict {
    match said {
        Said::Fits => Verdict::Fits,
        Said::DoesNotFit => Verdict::DoesNotFit,
        Said::OnPurpose => Verdict::OnPurpose,
        Said::NotOurs => Verdict::NotOurs,
    }
}

impl Review {
    /// What the channels of the note are called in marks; else a cause and a hint.
    fn named(&self, arguments: &Arguments) -> Result<Vec<String>, (String, String)> {
        let all = [&self.notes, &self.mentor, &self.lead, &self.hidden];
        let of_rule: Vec<&Note> =
            all.into_iter().flatten().filter(|note| note.rule == arguments.rule).collect();
        if of_rule.is_empty() {
            let mut rules: Vec<&str> =
                all.into_iter().flatten().map(|note| note.rule.as_str()).collect();
            rules.sort_unstable();
            rules.dedup();
            let cause = format!("it holds no note of a rule `{}`", arguments.rule);
            return Err((cause, format!("its notes are of: {}", rules.join(", "))));
        }
        let mut ids: Vec<&String> = Vec::new();
        for id in of_rule.iter().flat_map(|note| &note.channels) {
            if !ids.contains(&id) {
                ids.push(id);
            }
        }
        let Some(wanted) = &arguments.channel else {
            return Ok(ids.into_iter().map(|id| self.label(id)).collect());
        };
        let is_wanted = |id: &&&String| {
            let named = self.channels.iter().find(|channel| channel.id == ***id);
            **id == wanted || named.is_some_and(|channel| is_same_name(&channel.name, wanted))
        };
        match ids.iter().find(is_wanted) {
            Some(id) => Ok(vec![self.label(id)]),
            None => {
                let known: Vec<String> = ids.iter().map(|id| self.label(id)).collect();
                let cause =
                    format!("its note of `{}` is not about a channel `{wanted}`", arguments.rule);
                Err((cause, format!("its channels are: {}", known.join(", "))))
            }
        }
    }

    /// What a channel is called in marks.
    fn label(&self, id: &str) -> String {
        let names = self.channels.iter().map(|channel| channel.name.as_str());
        let named = self.channels.iter().find(|channel| channel.id == id);
        named.map_or(id, |channel| called(&channel.id, &channel.name, names)).to_owned()
    }
}
