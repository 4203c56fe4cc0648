//! What is kept of a session: read from its `review.json`.
//!
//! Takes the text of a review, gives a [`Record`]. Keeps what was judged with its numbers; never sound, moments or sentences.

use serde::{Deserialize, Serialize};

use crate::coach::{self, Mark, Marks, Verdict};
use crate::session::{Role, is_same_name};

/// What is kept of a session.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Record {
    /// Its name.
    pub name: String,
    /// Its date, `YYYY-MM-DD`, if known.
    pub date: Option<String>,
    /// Label of the operator, if stated.
    pub operator: Option<String>,
    /// Label of the place, if stated.
    pub place: Option<String>,
    /// Style preset.
    pub style: String,
    /// Whether it was a rehearsal.
    pub is_rehearsal: bool,
    /// Whether the team marked it as a good night, if stated.
    pub is_good: Option<bool>,
    /// Length, in seconds.
    pub duration_s: f64,
    /// Names of the inputs on the desk: the line-up.
    pub inputs: Vec<String>,
    /// What was judged.
    pub observations: Vec<Observation>,
    /// Rules that stood on a page.
    pub notes: Vec<Note>,
    /// The rule that was to be practised, if any.
    pub focus: Option<String>,
    /// What the team said of notes.
    pub marks: Vec<Marked>,
}

/// One judgement.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Observation {
    /// Id of the rule.
    pub rule: String,
    /// Version of the rule.
    pub rule_version: String,
    /// Name of the channel, of both channels of a pair, or empty for the whole session.
    pub channel: String,
    /// Role of the channel; empty where there is none.
    pub role: String,
    /// Where on the desk it was recorded; empty where there is no channel.
    pub tap: String,
    /// How often it happened.
    pub n_hits: u32,
    /// How often it could have.
    pub n_chances: u32,
    /// `amber` or `red`, if it was off target.
    pub severity: Option<String>,
    /// Name of the number.
    pub number: Option<String>,
    /// The number, if it is known and not only bounded.
    pub value: Option<f64>,
    /// Its unit.
    pub unit: Option<String>,
    /// Confidence, 0 to 1.
    pub confidence: f64,
}

/// A rule that stood on a page.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Note {
    /// `trainee`, `mentor` or `lead`.
    pub page: String,
    /// Id of the rule.
    pub rule: String,
}

/// What the team said of a note, without its words.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Marked {
    /// Id of the rule.
    pub rule: String,
    /// Names of the channels on the desk; empty for the whole session.
    pub channels: Vec<String>,
    /// `fits`, `does-not-fit`, `on-purpose` or `not-ours`.
    pub mark: String,
}

impl Record {
    /// Reads the text of a review whose format is named `schema`.
    ///
    /// # Errors
    ///
    /// In a clause, if the text is no review or of another version.
    pub fn read(text: &str, schema: &str) -> Result<Self, String> {
        head(text, schema)?;
        let review: Review = serde_json::from_str(text)
            .map_err(|error| format!("it was written by another version: {error}"))?;
        Ok(review.into())
    }

    /// The same with what the team said of its notes.
    pub fn with_marks(self, marks: &Marks) -> Self {
        let marked = |mark: &Mark| Marked {
            rule: mark.rule.clone(),
            channels: mark.channels.clone(),
            mark: mark.mark.id().to_owned(),
        };
        Self { marks: marks.all().iter().map(marked).collect(), ..self }
    }

    /// What the team said of a judgement; the last mark counts. A judgement over many channels has one place, so any mark of its rule
    /// is about it.
    fn said(&self, one: &Observation) -> Option<Verdict> {
        let is_named = |marked: &Marked, name: &str| {
            marked.channels.iter().any(|channel| is_same_name(channel, name))
        };
        let holds = |marked: &&Marked| {
            marked.rule == one.rule
                && (one.channel.is_empty()
                    || one.channel.split(" + ").all(|name| is_named(marked, name)))
        };
        let marked = self.marks.iter().rev().find(holds)?;
        Verdict::ALL.into_iter().find(|verdict| verdict.id() == marked.mark)
    }

    /// Whether a judgement is so, whosever matter it is: nobody marked it as wanted or as not fitting.
    pub(super) fn is_so(&self, one: &Observation) -> bool {
        matches!(self.said(one), None | Some(Verdict::Fits | Verdict::NotOurs))
    }

    /// Whether it is so and a matter of whoever operated.
    pub(super) fn is_own(&self, one: &Observation) -> bool {
        matches!(self.said(one), None | Some(Verdict::Fits))
    }

    /// What tells sessions apart: a second review of the same recordings replaces the first.
    pub(super) fn identity(&self) -> String {
        identity(&self.name, self.date.as_deref(), self.duration_s)
    }
}

/// What tells a session from others: name, date and length.
pub fn identity(name: &str, date: Option<&str>, duration_s: f64) -> String {
    format!("{} {duration_s:.3} s {name}", date.unwrap_or("undated"))
}

/// The key that every version has.
#[derive(Deserialize)]
struct Head {
    schema: String,
}

/// Whether a text is a review of the format that is asked for.
pub(super) fn head(text: &str, schema: &str) -> Result<(), String> {
    let head: Head =
        serde_json::from_str(text).map_err(|error| format!("it is no review.json: {error}"))?;
    if head.schema == schema {
        Ok(())
    } else {
        Err(format!("its format is `{}`, expected `{schema}`", head.schema))
    }
}

/// The keys of a review that are kept.
#[derive(Deserialize)]
struct Review {
    session: Session,
    channels: Vec<Channel>,
    observations: Vec<Judged>,
    notes: Vec<Noted>,
    mentor: Vec<Noted>,
    lead: Vec<Noted>,
    focus: Option<Noted>,
}

#[derive(Deserialize)]
struct Session {
    name: String,
    date: Option<String>,
    operator: Option<String>,
    place: Option<String>,
    style: String,
    is_rehearsal: bool,
    is_good: Option<bool>,
    duration_s: f64,
}

#[derive(Deserialize)]
struct Channel {
    id: String,
    name: String,
    role: String,
    tap: String,
}

#[derive(Deserialize)]
struct Judged {
    rule: String,
    rule_version: String,
    channels: Vec<String>,
    outcome: serde_json::Value,
    confidence: f64,
    measured: Vec<Measured>,
    n_hits: u32,
    n_chances: u32,
}

#[derive(Deserialize)]
struct Measured {
    name: String,
    value: Option<f64>,
    unit: String,
}

#[derive(Deserialize)]
struct Noted {
    rule: String,
}

impl From<Review> for Record {
    fn from(review: Review) -> Self {
        let Review { session, channels, observations, notes, mentor, lead, focus } = review;
        let on = |page: &str, notes: Vec<Noted>| -> Vec<Note> {
            notes.into_iter().map(|note| Note { page: page.to_owned(), rule: note.rule }).collect()
        };
        Self {
            name: session.name,
            date: session.date,
            operator: session.operator.filter(|label| !label.trim().is_empty()),
            place: session.place,
            style: session.style,
            is_rehearsal: session.is_rehearsal,
            is_good: session.is_good,
            duration_s: session.duration_s,
            inputs: channels
                .iter()
                .filter(|channel| Role::from_word(&channel.role).is_some_and(Role::is_input))
                .map(|channel| channel.name.clone())
                .collect(),
            observations: observations
                .into_iter()
                .filter(|judged| judged.n_chances > 0)
                .map(|judged| observation(judged, &channels))
                .collect(),
            notes: [on("trainee", notes), on("mentor", mentor), on("lead", lead)].concat(),
            focus: focus.map(|focus| focus.rule),
            marks: Vec::new(),
        }
    }
}

fn observation(judged: Judged, channels: &[Channel]) -> Observation {
    let found: Vec<&Channel> = judged
        .channels
        .iter()
        .filter_map(|id| channels.iter().find(|channel| channel.id == *id))
        .collect();
    // More than a pair is no place of its own: the list changes from night to night.
    let named = if found.len() <= 2 { found.as_slice() } else { &[] };
    let first = named.first();
    let measured = main_number(&judged.rule, &judged.measured);
    Observation {
        channel: named.iter().map(|one| one.name.as_str()).collect::<Vec<_>>().join(" + "),
        role: first.map(|one| one.role.clone()).unwrap_or_default(),
        tap: found.first().map(|one| one.tap.clone()).unwrap_or_default(),
        n_hits: judged.n_hits.min(judged.n_chances),
        n_chances: judged.n_chances,
        severity: match judged.outcome.as_str() {
            Some("near") => Some("amber".to_owned()),
            Some("outside") => Some("red".to_owned()),
            _ => None,
        },
        number: measured.map(|one| one.name.clone()),
        value: measured.and_then(|one| one.value),
        unit: measured.map(|one| one.unit.clone()),
        confidence: judged.confidence,
        rule: judged.rule,
        rule_version: judged.rule_version,
    }
}

/// The number that a rule looks at first, whichever of its numbers decided tonight: a row of nights needs one and the same.
fn main_number<'a>(rule: &str, measured: &'a [Measured]) -> Option<&'a Measured> {
    let limbs = coach::rule(rule).map_or(&[][..], |rule| rule.limbs);
    limbs
        .iter()
        .find_map(|limb| measured.iter().find(|one| one.name == limb.name))
        .or_else(|| measured.first())
}
