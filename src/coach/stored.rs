//! A review read back from its text: every fact, and the notes as they were worded then.
//!
//! Takes the text of a `review.json`, gives a [`Stored`]. Never judges anew. What a rule of another version says is left out and
//! told, for its texts are not known here.

use serde::Deserialize;

use super::advice::{Folded, Held, Note, SafetyLine};
use super::audition::Excerpt;
use super::judge::{Measured, Outcome, Severity, Target};
use super::marks::Verdict;
use super::past::Recurred;
use super::review::rule;
use super::rule::{Page, Rule, Tier};
use super::wording;
use crate::reading::Reading;
use crate::unit::{Fact, Span, Unit};

/// A review as it was written.
#[derive(Clone, Debug)]
pub struct Stored {
    /// The version that wrote it, if it says so.
    pub program: Option<String>,
    /// Every fact.
    pub reading: Reading,
    /// Safety wording that stands above the notes.
    pub safety_lines: Vec<SafetyLine>,
    /// What worked well, a sentence each.
    pub strengths: Vec<String>,
    /// The notes that the operator got.
    pub notes: Vec<Note>,
    /// Other findings, for the mentor.
    pub mentor: Vec<Note>,
    /// Findings about hall, gear and recording, for the lead.
    pub lead: Vec<Note>,
    /// Every judgement.
    pub judged: Vec<Judged>,
    /// Ids of rules that this version does not know: what they said is left out.
    pub unknown: Vec<String>,
}

/// One judgement of a stored review.
#[derive(Clone, Debug)]
pub struct Judged {
    /// The rule.
    pub rule: &'static Rule,
    /// Its version then.
    pub rule_version: String,
    /// Ids of the channels; empty for the whole session.
    pub channels: Vec<String>,
    /// The outcome.
    pub outcome: Outcome,
    /// Confidence, 0 to 1.
    pub confidence: f64,
    /// Whether the team does not want to see it.
    pub is_hidden: bool,
    /// The deciding number, if it is known to this version.
    pub measured: Option<Measured>,
    /// Its target.
    pub target: Option<Target>,
}

impl Stored {
    /// Reads the text of a review whose format is named `schema`.
    ///
    /// # Errors
    ///
    /// In a clause, if the text is no review or of another version.
    pub fn read(text: &str, schema: &str) -> Result<Self, String> {
        let head: Head =
            serde_json::from_str(text).map_err(|error| format!("it is no review ({error})"))?;
        if head.schema != schema {
            return Err(format!("its format is `{}`, expected `{schema}`", head.schema));
        }
        let other =
            |error: serde_json::Error| format!("it was written by another version: {error}");
        let reading: Reading = serde_json::from_str(text).map_err(other)?;
        let review: Text = serde_json::from_str(text).map_err(other)?;
        let mut unknown = review.unknown();
        unknown.sort_unstable();
        unknown.dedup();
        let notes = |texts: Vec<NoteText>| texts.into_iter().filter_map(NoteText::known).collect();
        Ok(Self {
            program: review.program,
            reading,
            safety_lines: review.safety.into_iter().filter_map(SafetyText::known).collect(),
            strengths: review.strengths.into_iter().map(|strength| strength.sentence).collect(),
            notes: notes(review.notes),
            mentor: notes(review.mentor),
            lead: notes(review.lead),
            judged: review.observations.into_iter().filter_map(JudgedText::known).collect(),
            unknown,
        })
    }

    /// All findings: the operator's, then the mentor's, then the lead's.
    pub fn findings(&self) -> impl Iterator<Item = &Note> {
        self.notes.iter().chain(&self.mentor).chain(&self.lead)
    }
}

/// The key that every version has.
#[derive(Deserialize)]
struct Head {
    schema: String,
}

/// The keys of a review beside its facts.
#[derive(Deserialize)]
struct Text {
    program: Option<String>,
    safety: Vec<SafetyText>,
    strengths: Vec<StrengthText>,
    notes: Vec<NoteText>,
    mentor: Vec<NoteText>,
    lead: Vec<NoteText>,
    observations: Vec<JudgedText>,
}

impl Text {
    /// Ids of rules that this version does not know.
    fn unknown(&self) -> Vec<String> {
        let notes = [&self.notes, &self.mentor, &self.lead].into_iter().flatten();
        let ids = notes
            .map(|note| &note.rule)
            .chain(self.observations.iter().map(|judged| &judged.rule))
            .chain(self.safety.iter().map(|line| &line.rule));
        ids.filter(|id| rule(id).is_none()).cloned().collect()
    }
}

#[derive(Deserialize)]
struct SafetyText {
    rule: String,
    channels: Vec<String>,
}

impl SafetyText {
    fn known(self) -> Option<SafetyLine> {
        let rule = rule(&self.rule)?;
        Some(SafetyLine { rule: rule.id, channels: self.channels, text: rule.safety? })
    }
}

#[derive(Deserialize)]
struct StrengthText {
    sentence: String,
}

#[derive(Deserialize)]
struct NoteText {
    rule: String,
    tier: Tier,
    page: Page,
    severity: Severity,
    confidence: f64,
    channels: Vec<String>,
    sentence: String,
    measured: Vec<MeasuredText>,
    target: TargetText,
    evidence: Vec<Span>,
    #[serde(default)]
    excerpts: Vec<Excerpt>,
    #[serde(rename = "try")]
    advice: Vec<String>,
    folds: Vec<FoldedText>,
    is_check: bool,
    held: Option<Held>,
    recurred: Option<Recurred>,
}

impl NoteText {
    fn known(self) -> Option<Note> {
        let rule = rule(&self.rule)?;
        Some(Note {
            rule,
            title: rule.title,
            group: rule.group,
            tier: self.tier,
            page: self.page,
            severity: self.severity,
            confidence: self.confidence,
            channels: self.channels,
            sentence: self.sentence,
            sure: wording::sure(self.confidence),
            measured: self.measured.into_iter().filter_map(|one| one.known(rule)).collect(),
            target: self.target.known(rule),
            evidence: self.evidence,
            excerpts: self.excerpts,
            why: rule.why,
            advice: self.advice,
            folds: self.folds.into_iter().filter_map(|fold| fold.known(rule)).collect(),
            is_check: self.is_check,
            held: self.held,
            recurred: self.recurred,
            is_whole: false,
            weight: 0.0,
        })
    }
}

#[derive(Deserialize)]
struct FoldedText {
    rule: String,
    channels: Vec<String>,
    sentence: String,
}

impl FoldedText {
    fn known(self, into: &'static Rule) -> Option<Folded> {
        let rule = rule(&self.rule)?;
        let Self { channels, sentence, .. } = self;
        Some(Folded { rule: rule.id, title: rule.title, channels, into: into.id, sentence })
    }
}

#[derive(Deserialize)]
struct MeasuredText {
    name: String,
    channels: Vec<String>,
    #[serde(flatten)]
    fact: Fact,
    unit: Unit,
    change_db: Option<f64>,
}

impl MeasuredText {
    /// The number as one of the rule's own.
    fn known(self, rule: &'static Rule) -> Option<Measured> {
        let is_same = |limb: &&super::Limb| limb.name == self.name && limb.unit == self.unit;
        let limb = rule.limbs.iter().find(is_same)?;
        Some(Measured {
            name: limb.name,
            channels: self.channels,
            fact: self.fact,
            unit: limb.unit,
            change_db: self.change_db,
        })
    }
}

#[derive(Deserialize)]
struct TargetText {
    low: Option<f64>,
    high: Option<f64>,
    unit: Unit,
    source: String,
}

impl TargetText {
    /// Where a source's text is not among those of the rule as it stands now.
    const EARLIER: &str = "as the review states it";

    fn known(self, rule: &'static Rule) -> Target {
        let team = [super::Source::Team.text()];
        let windows = rule.limbs.iter().flat_map(|limb| limb.windows);
        let mut sources = windows.map(|window| window.source.text()).chain(team);
        let source = sources.find(|source| *source == self.source).unwrap_or(Self::EARLIER);
        Target { low: self.low, high: self.high, unit: self.unit, source }
    }
}

#[derive(Deserialize)]
struct JudgedText {
    rule: String,
    #[serde(default)]
    rule_version: String,
    channels: Vec<String>,
    outcome: Outcome,
    confidence: f64,
    measured: Vec<MeasuredText>,
    target: Option<TargetText>,
    is_on_purpose: bool,
    mark: Option<Verdict>,
}

impl JudgedText {
    fn known(self) -> Option<Judged> {
        let rule = rule(&self.rule)?;
        Some(Judged {
            rule,
            rule_version: self.rule_version,
            channels: self.channels,
            outcome: self.outcome,
            confidence: self.confidence,
            is_hidden: self.is_on_purpose || self.mark.is_some_and(Verdict::hides),
            measured: self.measured.into_iter().next().and_then(|one| one.known(rule)),
            target: self.target.map(|target| target.known(rule)),
        })
    }
}
