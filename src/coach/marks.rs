//! What the team says of notes: whether they fit, were on purpose, or belong to somebody else.
//!
//! Takes and gives the text of a `marks.json`, never a path. A mark holds for the rule and the channels that it names.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::advice::Note;
use super::reserved::RESERVED;
use super::rule::Tier;
use super::rules::RULES;
use crate::reading::{Channel, Reading};
use crate::session::is_same_name;

/// Name of the format.
const SCHEMA: &str = "deskside-marks/1";

/// Marks from which their share counts, and the share of notes that have to fit: fewer than one in ten may be wrong for readers to stay
/// (Sadowski et al., CACM 2018), and two in ten are borne with.
const ENOUGH: usize = 10;
const FIT_SHARE: f64 = 0.8;

/// What is believed of a rule before any mark: so many of so many fit.
const PRIOR: (f64, f64) = (8.0, 10.0);

/// What the team says of a note.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// It is so.
    Fits,
    /// It is not so.
    DoesNotFit,
    /// It is so, and was wanted.
    OnPurpose,
    /// It is so, and others have to deal with it.
    NotOurs,
}

impl Verdict {
    /// All, in the order in which they are offered.
    pub const ALL: [Self; 4] = [Self::Fits, Self::DoesNotFit, Self::OnPurpose, Self::NotOurs];

    /// Its name in files and commands.
    pub const fn id(self) -> &'static str {
        match self {
            Self::Fits => "fits",
            Self::DoesNotFit => "does-not-fit",
            Self::OnPurpose => "on-purpose",
            Self::NotOurs => "not-ours",
        }
    }

    /// The same in words.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Fits => "fits",
            Self::DoesNotFit => "does not fit",
            Self::OnPurpose => "on purpose",
            Self::NotOurs => "not ours",
        }
    }

    /// Whether a finding that is marked so is not shown any more.
    pub const fn hides(self) -> bool {
        matches!(self, Self::OnPurpose | Self::NotOurs)
    }
}

/// What was said of one note.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Mark {
    /// Id of the rule.
    pub rule: String,
    /// Names of the channels on the desk, or their ids; empty for the whole session.
    #[serde(default)]
    pub channels: Vec<String>,
    /// What was said.
    pub mark: Verdict,
    /// In own words.
    #[serde(default)]
    pub comment: String,
}

/// The marks of a team.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Marks {
    schema: String,
    marks: Vec<Mark>,
    /// Marks of earlier sessions by rule: how many fitted or were meant so, of how many.
    #[serde(skip)]
    earlier: BTreeMap<String, (usize, usize)>,
}

impl Default for Marks {
    fn default() -> Self {
        Self { schema: SCHEMA.to_owned(), marks: Vec::new(), earlier: BTreeMap::new() }
    }
}

/// What is wrong with a file of marks, in one sentence.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum MarksError {
    /// The text is no such file.
    #[error("{0}")]
    Syntax(String),
    /// It is a file of another format.
    #[error("its format is `{found}`, and `{SCHEMA}` is what this version reads")]
    Format {
        /// The name of its format.
        found: String,
    },
    /// There is no rule of that name.
    #[error("there is no rule `{rule}` (list the rules with `deskside explain --list`)")]
    UnknownRule {
        /// The name.
        rule: String,
    },
}

impl Marks {
    /// Reads the text of a file of marks.
    ///
    /// # Errors
    ///
    /// [`MarksError`] for text that is no such file, and for an unknown key, word or rule.
    pub fn parse(text: &str) -> Result<Self, MarksError> {
        let marks: Self =
            serde_json::from_str(text).map_err(|error| MarksError::Syntax(error.to_string()))?;
        if marks.schema != SCHEMA {
            return Err(MarksError::Format { found: marks.schema });
        }
        let is_known = |id: &str| {
            RULES.iter().any(|rule| rule.id == id) || RESERVED.iter().any(|rule| rule.id == id)
        };
        match marks.marks.iter().find(|mark| !is_known(&mark.rule)) {
            Some(mark) => Err(MarksError::UnknownRule { rule: mark.rule.clone() }),
            None => Ok(marks),
        }
    }

    /// The same with the count of marks of earlier sessions.
    pub fn after(self, earlier: &BTreeMap<String, (usize, usize)>) -> Self {
        Self { earlier: earlier.clone(), ..self }
    }

    /// The text of the file, with a line break at its end.
    ///
    /// # Panics
    ///
    /// Never: marks are plain data.
    pub fn to_json(&self) -> String {
        let mut json = serde_json::to_string_pretty(self).expect("marks are plain data");
        json.push('\n');
        json
    }

    /// All marks, in the order in which they were made.
    pub fn all(&self) -> &[Mark] {
        &self.marks
    }

    /// Adds a mark; it takes the place of an earlier one of the same note.
    pub fn set(&mut self, mark: Mark) {
        let is_same =
            |other: &Mark| other.rule == mark.rule && same(&other.channels, &mark.channels);
        self.marks.retain(|other| !is_same(other));
        self.marks.push(mark);
    }

    /// What was said of a note, by its rule and the names of its channels.
    pub fn find(&self, rule: &str, channels: &[String]) -> Option<&Mark> {
        self.marks.iter().find(|mark| mark.rule == rule && same(&mark.channels, channels))
    }

    /// What was said of a note of a reading.
    pub fn on(&self, note: &Note, reading: &Reading) -> Option<&Mark> {
        self.holding(note.rule.id, &note.channels, reading)
    }

    /// What was said of a rule on some channels.
    pub(super) fn verdict(&self, rule: &str, ids: &[String], reading: &Reading) -> Option<Verdict> {
        self.holding(rule, ids, reading).map(|mark| mark.mark)
    }

    /// The mark of a rule on some channels: one holds where it names all of them. The last one counts.
    fn holding(&self, rule: &str, ids: &[String], reading: &Reading) -> Option<&Mark> {
        let is_named = |mark: &Mark, id: &String| {
            let name = reading.channel(id).map(|channel| label(channel, reading));
            mark.channels
                .iter()
                .any(|one| one == id || name.is_some_and(|name| is_same_name(one, name)))
        };
        let holds = |mark: &&Mark| {
            mark.rule == rule
                && mark.channels.is_empty() == ids.is_empty()
                && ids.iter().all(|id| is_named(mark, id))
        };
        self.marks.iter().rev().find(holds)
    }

    /// The tier of a rule as marks see it: one down where too many of its notes did not fit.
    pub(super) fn tier(&self, rule: &str, tier: Tier) -> Tier {
        if self.fits(rule) { tier } else { tier.below() }
    }

    /// Whether enough of a rule's notes fit, as far as marks tell. On purpose and not ours say nothing against it.
    #[expect(clippy::cast_precision_loss, reason = "marks are few")]
    pub(super) fn fits(&self, rule: &str) -> bool {
        let count = |verdict: Verdict| {
            self.marks.iter().filter(|mark| mark.rule == rule && mark.mark == verdict).count()
        };
        let (right_before, all_before) = self.earlier.get(rule).copied().unwrap_or_default();
        let n_right = right_before
            + Verdict::ALL
                .into_iter()
                .filter(|one| *one != Verdict::DoesNotFit)
                .map(count)
                .sum::<usize>();
        let n_all = n_right + count(Verdict::DoesNotFit) + (all_before - right_before);
        n_all < ENOUGH || (PRIOR.0 + n_right as f64) / (PRIOR.1 + n_all as f64) >= FIT_SHARE
    }
}

/// What a channel of a reading is called in a mark.
pub fn label<'a>(channel: &'a Channel, reading: &'a Reading) -> &'a str {
    called(&channel.id, &channel.name, reading.channels.iter().map(|other| other.name.as_str()))
}

/// What a channel is called in a mark: its name, or its id where another of the `names` of all channels is the same.
pub fn called<'a>(id: &'a str, name: &'a str, names: impl Iterator<Item = &'a str>) -> &'a str {
    let n_same = names.filter(|other| is_same_name(other, name)).count();
    if n_same == 1 && !name.trim().is_empty() { name } else { id }
}

/// Whether two lists name the same channels, in any order.
fn same(one: &[String], other: &[String]) -> bool {
    let holds = |list: &[String], name: &String| list.iter().any(|known| is_same_name(known, name));
    one.len() == other.len() && one.iter().all(|name| holds(other, name))
}
