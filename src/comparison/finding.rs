//! Findings of two reviews: gone, new, still there, or not judged in one of them.
//!
//! A finding counts where it is as sure as a note has to be. What was not judged is never called gone.

use serde::Serialize;

use crate::coach::{Judged, Measured, Outcome, Severity, Stored, Target, label};
use crate::reading::Reading;
use crate::session::is_same_name;

/// Confidence from which a judgement counts here, 0 to 1: what the surest rules ask of a note.
const SURE: f64 = 0.7;

/// What became of a finding.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Course {
    /// On target then, found now.
    New,
    /// Found in both.
    Stays,
    /// Found then, on target now.
    Gone,
    /// Found then; now the team does not want to see it.
    PutAside,
    /// Found now, not judged then.
    NotJudgedThen,
    /// Found then, not judged now.
    NotJudgedNow,
    /// Found in one of them at least, and the rule or its target changed in between.
    RuleChanged,
}

impl Course {
    /// All, in the order in which they are told.
    pub const ALL: [Self; 7] = [
        Self::New,
        Self::Stays,
        Self::Gone,
        Self::PutAside,
        Self::NotJudgedThen,
        Self::NotJudgedNow,
        Self::RuleChanged,
    ];

    /// The same in words.
    pub const fn word(self) -> &'static str {
        match self {
            Self::New => "new",
            Self::Stays => "still there",
            Self::Gone => "gone",
            Self::PutAside => "marked since",
            Self::NotJudgedThen => "not judged before",
            Self::NotJudgedNow => "not judged now",
            Self::RuleChanged => "rule changed",
        }
    }
}

/// A finding of one or both reviews.
#[derive(Clone, Debug, Serialize)]
pub struct Finding {
    /// Id of the rule.
    pub rule: &'static str,
    /// The fault in a few words.
    pub title: &'static str,
    /// Names of the channels; empty for the whole session.
    pub channels: Vec<String>,
    /// What became of it.
    pub course: Course,
    /// How far off target it was then, if it was.
    pub severity_then: Option<Severity>,
    /// The same now.
    pub severity_now: Option<Severity>,
    /// The deciding number then, if it is known.
    pub then: Option<Measured>,
    /// The deciding number now, if it is known.
    pub now: Option<Measured>,
    /// The target now, or then where it is only known from then.
    pub target: Option<Target>,
}

/// One judgement with the names of its channels.
#[derive(Clone, Debug)]
pub(super) struct Place<'a> {
    pub(super) channels: Vec<&'a str>,
    pub(super) judged: &'a Judged,
}

/// What a review says of one thing, and the same thing in the other.
#[derive(Clone, Debug)]
pub(super) struct Both<'a> {
    pub(super) then: Option<Place<'a>>,
    pub(super) now: Option<Place<'a>>,
}

/// The judgements of one rule in both reviews, matched by the names of their channels.
pub(super) fn both<'a>(rule: &str, then: &'a Stored, now: &'a Stored) -> Vec<Both<'a>> {
    let mut before = places(rule, then);
    let mut found: Vec<Both<'a>> = Vec::new();
    let after = places(rule, now);
    let is_one = before.len() == 1 && after.len() == 1;
    for place in after {
        let at =
            before.iter().position(|other| is_one || is_same(&other.channels, &place.channels));
        found.push(Both { then: at.map(|at| before.remove(at)), now: Some(place) });
    }
    found.extend(before.into_iter().map(|place| Both { then: Some(place), now: None }));
    found
}

/// The judgements of a rule, the worst of each place.
fn places<'a>(rule: &str, stored: &'a Stored) -> Vec<Place<'a>> {
    let mut found: Vec<Place<'a>> = Vec::new();
    for judged in stored.judged.iter().filter(|judged| judged.rule.id == rule) {
        let place = Place { channels: names(judged, &stored.reading), judged };
        match found.iter_mut().find(|other| is_same(&other.channels, &place.channels)) {
            Some(other) if rank(judged) > rank(other.judged) => *other = place,
            Some(_) => {}
            None => found.push(place),
        }
    }
    found
}

/// How much a judgement says: a finding more than a met target, and that more than none.
fn rank(judged: &Judged) -> u8 {
    match state(judged) {
        State::Found(Severity::Red) => 4,
        State::Found(Severity::Amber) => 3,
        State::PutAside => 2,
        State::OnTarget => 1,
        State::Open => 0,
    }
}

/// Names of the channels of a judgement. More than a pair is no place of its own: the list changes from night to night.
fn names<'a>(judged: &Judged, reading: &'a Reading) -> Vec<&'a str> {
    if judged.channels.len() > 2 {
        return Vec::new();
    }
    let channels = judged.channels.iter().filter_map(|id| reading.channel(id));
    channels.map(|channel| label(channel, reading)).collect()
}

fn is_same(one: &[&str], other: &[&str]) -> bool {
    let holds = |list: &[&str], name: &str| list.iter().any(|known| is_same_name(known, name));
    one.len() == other.len() && one.iter().all(|name| holds(other, name))
}

/// What a judgement comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    Found(Severity),
    OnTarget,
    PutAside,
    Open,
}

fn state(judged: &Judged) -> State {
    let found = match judged.outcome {
        _ if judged.confidence < SURE => return State::Open,
        Outcome::NotJudged(_) => return State::Open,
        Outcome::OnTarget => return State::OnTarget,
        Outcome::Near => Severity::Amber,
        Outcome::Outside => Severity::Red,
    };
    if judged.is_hidden { State::PutAside } else { State::Found(found) }
}

/// Findings of either review, in the order of rules.
pub(super) fn findings(then: &Stored, now: &Stored) -> Vec<Finding> {
    let rules = crate::coach::RULES.iter();
    rules.flat_map(|rule| both(rule.id, then, now)).filter_map(|both| finding(&both)).collect()
}

fn finding(both: &Both<'_>) -> Option<Finding> {
    let state =
        |place: &Option<Place<'_>>| place.as_ref().map_or(State::Open, |place| state(place.judged));
    let (before, after) = (state(&both.then), state(&both.now));
    let course = course(both, before, after)?;
    let place = both.now.as_ref().or(both.then.as_ref())?;
    let severity = |state: State| match state {
        State::Found(severity) => Some(severity),
        _ => None,
    };
    let number = |place: &Option<Place<'_>>| place.as_ref()?.judged.measured.clone();
    let target = |place: &Option<Place<'_>>| place.as_ref()?.judged.target;
    Some(Finding {
        rule: place.judged.rule.id,
        title: place.judged.rule.title,
        channels: place.channels.iter().map(|name| (*name).to_owned()).collect(),
        course,
        severity_then: severity(before),
        severity_now: severity(after),
        then: number(&both.then),
        now: number(&both.now),
        target: target(&both.now).or_else(|| target(&both.then)),
    })
}

fn course(both: &Both<'_>, before: State, after: State) -> Option<Course> {
    let is_found = |state: State| matches!(state, State::Found(_));
    if !is_found(before) && !is_found(after) {
        return None;
    }
    if let (Some(then), Some(now)) = (&both.then, &both.now)
        && then.judged.rule_version != now.judged.rule_version
    {
        return Some(Course::RuleChanged);
    }
    Some(match (before, after) {
        (State::Found(_), State::Found(_)) => Course::Stays,
        (State::Found(_), State::OnTarget) => Course::Gone,
        (State::Found(_), State::PutAside) => Course::PutAside,
        (State::Found(_), State::Open) => Course::NotJudgedNow,
        (State::OnTarget, _) => Course::New,
        (_, _) => Course::NotJudgedThen,
    })
}
