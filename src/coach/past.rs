//! What stored sessions say: how often a rule fired before, what was to be practised, and how often notes of a rule fitted.
//!
//! Takes counts of earlier sessions as plain data, gives what the choice of notes needs. Never reads a history, and is empty where there
//! is none: a review is then what it is without one.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::judge::Judgement;
use super::rule::Page;
use crate::reading::Reading;

/// Sessions looked back on: those in which a rule could have fired.
const LOOK_BACK: usize = 5;
/// What each of them in which it fired adds to the weight of its note, and the most that they add together.
const PER_TIME: f64 = 0.25;
const AT_MOST: f64 = 0.75;

/// What stored sessions say.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Past {
    /// Sessions stored for the label of tonight's operator.
    pub n_sessions: usize,
    /// The last of them, newest first.
    pub own: Vec<PastNight>,
    /// The last sessions of the whole team, newest first.
    pub team: Vec<PastNight>,
    /// Rules and places that come back whoever operates: they are nobody's habit.
    pub common: Vec<(String, String)>,
    /// Marks of notes by rule: how many fitted or were meant so, of how many.
    pub marks: BTreeMap<String, (usize, usize)>,
}

/// One stored session.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PastNight {
    /// The rule that was to be practised.
    pub focus: Option<String>,
    /// What could have fired.
    pub seen: Vec<Seen>,
}

/// A rule at a place in one session.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Seen {
    /// Id of the rule.
    pub rule: String,
    /// Its version.
    pub rule_version: String,
    /// Name of the channel, of both channels of a pair, or empty for the whole session.
    pub place: String,
    /// Whether it fired.
    pub is_hit: bool,
}

/// How often something was so, tonight included.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Recurred {
    /// Sessions in which it was so.
    pub n_hits: usize,
    /// Sessions in which it could have been: six at most.
    pub n_sessions: usize,
    /// Whether all operators count, and not tonight's alone.
    pub is_team: bool,
}

impl Recurred {
    /// In words: `the third time in 5 sessions`.
    pub fn words(self) -> String {
        const WORDS: [&str; LOOK_BACK] = ["second", "third", "fourth", "fifth", "sixth"];
        let time = WORDS.get(self.n_hits.saturating_sub(2)).unwrap_or(&"sixth");
        let who = if self.is_team { ", whoever operated" } else { "" };
        format!("the {time} time in {} sessions{who}", self.n_sessions)
    }

    /// The factor by which it weighs more.
    pub(super) fn weight(self) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "six sessions at most")]
        let n_before = (self.n_hits - 1) as f64;
        1.0 + (PER_TIME * n_before).min(AT_MOST)
    }
}

impl Past {
    /// How often the findings of one rule were so before, tonight included; nothing where tonight is the first time. What comes back
    /// whoever operates counts for the lead only.
    pub(super) fn recurred(
        &self,
        findings: &[&Judgement],
        page: Page,
        reading: &Reading,
    ) -> Option<Recurred> {
        let first = findings.first()?;
        let is_team = page == Page::Lead;
        let is_common = |place: &String| {
            self.common.iter().any(|(rule, own)| rule == first.rule.id && own == place)
        };
        let places: Vec<String> = findings
            .iter()
            .map(|finding| place(finding, reading))
            .filter(|place| is_team || !is_common(place))
            .collect();
        let nights = if is_team { &self.team } else { &self.own };
        let is_it = |seen: &Seen| {
            seen.rule == first.rule.id
                && seen.rule_version == first.rule_version
                && places.contains(&seen.place)
        };
        let (n_hits, n_sessions) = count(nights, is_it);
        (n_hits > 0).then_some(Recurred { n_hits: n_hits + 1, n_sessions: n_sessions + 1, is_team })
    }

    /// In how many of how many last sessions of the operator a rule fired, wherever.
    pub(super) fn of_rule(&self, rule: &str) -> (usize, usize) {
        count(&self.own, |seen| seen.rule == rule)
    }

    /// The rule that was to be practised in the last session, and whether it was on target there.
    pub(super) fn focus(&self) -> Option<(&str, bool)> {
        let last = self.own.first()?;
        let rule = last.focus.as_deref()?;
        let mut seen = last.seen.iter().filter(|seen| seen.rule == rule).peekable();
        let was_met = seen.peek().is_some() && seen.all(|seen| !seen.is_hit);
        Some((rule, was_met))
    }
}

/// Nights with a hit among the last ones that could have had one.
fn count(nights: &[PastNight], is_it: impl Fn(&Seen) -> bool) -> (usize, usize) {
    let mut n_hits = 0;
    let mut n_sessions = 0;
    for night in nights {
        let mut seen = night.seen.iter().filter(|seen| is_it(seen)).peekable();
        if seen.peek().is_some() {
            n_sessions += 1;
            n_hits += usize::from(seen.any(|seen| seen.is_hit));
        }
        if n_sessions == LOOK_BACK {
            break;
        }
    }
    (n_hits, n_sessions)
}

/// The place of a judgement as a history names it: more than a pair is no place of its own.
fn place(judgement: &Judgement, reading: &Reading) -> String {
    let channels = judgement.channels.iter().filter_map(|id| reading.channel(id));
    let names: Vec<&str> = channels.map(|channel| channel.name.as_str()).collect();
    if names.len() > 2 { String::new() } else { names.join(" + ") }
}
