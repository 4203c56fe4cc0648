//! What a review says: a few notes for the trainee, the pages of mentor and lead, and what was not judged.
//!
//! Plain data for the pages and for JSON. Holds no score and no rank of a person.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::audition::Excerpt;
use super::judge::{Judgement, Measured, Severity, Target};
use super::marks::label;
use super::past::Recurred;
use super::rule::{Group, Page, Rule, Tier};
use crate::reading::Reading;
use crate::unit::Span;

/// Everything the coach says about a session.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Advice {
    /// Safety wording that stands above the notes and is not counted.
    pub safety_lines: Vec<SafetyLine>,
    /// What worked well: one at most.
    pub strengths: Vec<Strength>,
    /// The notes for the trainee, most helpful first.
    pub notes: Vec<Note>,
    /// What to practise next.
    pub focus: Option<Focus>,
    /// Findings for the mentor beside the notes, in the order of fixing.
    pub mentor: Vec<Note>,
    /// Findings for the lead: hall, gear, completeness of the recording.
    pub lead: Vec<Note>,
    /// Effects that a note explains.
    pub folded: Vec<Folded>,
    /// What was not judged, and why, like reasons together.
    pub not_judged: Vec<NotJudged>,
    /// Findings that the team does not want to see, by its marks or its own targets.
    pub hidden: Vec<Hidden>,
    /// Ids of rules that are trusted less, because marks said too often that they do not fit.
    pub demoted: Vec<&'static str>,
    /// Every judgement, in register order.
    #[serde(rename = "observations")]
    pub judgements: Vec<Judgement>,
}

/// One finding in words, over all channels that share it.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Note {
    /// The rule; JSON holds its id.
    pub rule: &'static Rule,
    /// The fault in a few words.
    pub title: &'static str,
    /// Where it stands in the order of fixing.
    pub group: Group,
    /// How far the rule is to be trusted.
    pub tier: Tier,
    /// Whose page it stands on.
    pub page: Page,
    /// How far it is off target.
    pub severity: Severity,
    /// Confidence, 0 to 1.
    pub confidence: f64,
    /// Ids of the channels; empty for the whole session.
    pub channels: Vec<String>,
    /// What is heard and when.
    pub sentence: String,
    /// How sure: `high`, `good`, `fair` or `low`.
    pub sure: &'static str,
    /// The numbers: the deciding ones first, worst channel first.
    pub measured: Vec<Measured>,
    /// The target of the first number.
    pub target: Target,
    /// Where it can be heard.
    pub evidence: Vec<Span>,
    /// Passages of the main mix to listen to; empty where none were written.
    pub excerpts: Vec<Excerpt>,
    /// Why a listener minds.
    pub why: &'static str,
    /// What to try, in the order to try it.
    #[serde(rename = "try")]
    pub advice: Vec<String>,
    /// How often it was so in the last sessions, where they are known and it was.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub recurred: Option<Recurred>,
    /// Effects on the same channels that this explains.
    pub folds: Vec<Folded>,
    /// Whether this is a check and not a finding.
    pub is_check: bool,
    /// Why it stands on the mentor's page and is no note for the trainee.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub held: Option<Held>,
    /// Whether it is about the recording as a whole, whatever channels it lists.
    #[serde(skip)]
    #[schemars(skip)]
    pub(super) is_whole: bool,
    /// How much it helps the trainee, for the choice of notes only.
    #[serde(skip)]
    #[schemars(skip)]
    pub(super) weight: f64,
}

impl Note {
    /// What its channels are called in marks.
    pub fn names(&self, reading: &Reading) -> Vec<String> {
        let of = |id: &String| match reading.channel(id) {
            Some(channel) => label(channel, reading).to_owned(),
            None => id.clone(),
        };
        self.channels.iter().map(of).collect()
    }
}

/// A finding that the team does not want to see.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Hidden {
    /// Id of the rule.
    pub rule: &'static str,
    /// The fault in a few words.
    pub title: &'static str,
    /// Ids of the channels; empty for the whole session.
    pub channels: Vec<String>,
    /// `on purpose` or `not ours`.
    pub why: &'static str,
}

/// Why a finding stays with the mentor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Held {
    /// The rule is for the mentor, or the recording allows no more than a check.
    MentorOnly,
    /// Its confidence is too low for the trainee.
    Unsure,
    /// Other notes help more.
    NoRoom,
    /// It is not among the first things to learn.
    NotStarter,
}

impl Held {
    /// The reason as pages print it.
    pub const fn word(self) -> &'static str {
        match self {
            Self::MentorOnly => "for the mentor",
            Self::Unsure => "not sure enough",
            Self::NoRoom => "other notes help more",
            Self::NotStarter => "later, when the first steps sit",
        }
    }
}

/// An effect inside the note of its cause.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Folded {
    /// Id of the effect's rule.
    pub rule: &'static str,
    /// The effect in a few words.
    pub title: &'static str,
    /// Ids of the channels.
    pub channels: Vec<String>,
    /// Id of the cause's rule.
    pub into: &'static str,
    /// What is heard and when.
    pub sentence: String,
}

/// What worked well.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Strength {
    /// Id of the rule.
    pub rule: &'static str,
    /// The strength with its time and number.
    pub sentence: String,
    /// Where it can be heard.
    pub evidence: Vec<Span>,
}

/// What to practise next.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Focus {
    /// Id of the rule.
    pub rule: &'static str,
    /// The exercise, in a sentence.
    pub exercise: &'static str,
    /// How it will be noticed.
    pub noticed: String,
    /// Whether it was the focus of the last session too: it stays until it was on target in two sessions running.
    pub is_kept: bool,
}

/// Safety wording with what triggered it.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct SafetyLine {
    /// Id of the rule.
    pub rule: &'static str,
    /// Ids of the channels.
    pub channels: Vec<String>,
    /// The wording.
    pub text: &'static str,
}

/// What was not judged for one reason.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct NotJudged {
    /// Ids of the rules.
    pub rules: Vec<&'static str>,
    /// Ids of the channels; empty where it holds for the whole session.
    pub channels: Vec<String>,
    /// Why, as a clause.
    pub reason: String,
}
