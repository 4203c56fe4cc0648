//! Habits: how often a rule fired of the times it could have, night by night, and what that does over months.
//!
//! Takes stored nights, gives one habit a rule. The count starts anew where hall, line-up, tap or rule changed. Never ranks or
//! grades anybody.

use std::collections::BTreeMap;

use super::change::{self, Change};
use super::read::Night;
use super::record::Observation;
use super::recur::Recurring;
use crate::coach::{Page, RULES, Rule};
use crate::dsp::percentile::median;
use crate::session::{Role, is_same_name};
use crate::trend::holm;
use crate::trend::kendall::{self, Trend};
use crate::trend::rate::Rate;
use crate::trend::slope::{self, Slope};
use crate::trend::verdict::{SHOWN_FROM, TESTED_FROM, Verdict};

/// Which observations count.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Selection {
    /// Of one role only.
    pub role: Option<Role>,
    /// Of one channel only, by its name on the desk.
    pub channel: Option<String>,
    /// Whether findings about hall and gear count: they are the lead's.
    pub with_gear: bool,
}

/// A rule over months.
#[derive(Clone, Debug)]
pub struct Habit {
    /// The rule.
    pub rule: &'static Rule,
    /// Every night that could have shown it, oldest first.
    pub dots: Vec<Dot>,
    /// Where counts stop to compare: each before a place in `dots`, in order.
    pub breaks: Vec<Break>,
    /// The rate since the last break.
    pub rate: Rate,
    /// The trend of the rate since the last break, from six nights on.
    pub trend: Option<Trend>,
    /// Probability of the trend, held to all that were looked at together.
    pub p_together: Option<f64>,
    /// What the number does since the last break, from four nights on.
    pub measure: Option<Measure>,
    /// What it comes to.
    pub verdict: Verdict,
}

/// One night.
#[derive(Clone, Debug, PartialEq)]
pub struct Dot {
    /// Date.
    pub day: String,
    /// How often it happened, of the times it could have.
    pub rate: Rate,
    /// The middle one of the numbers of that night, with its name and unit.
    pub number: Option<(String, f64, String)>,
}

/// A place from which counts start anew.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Break {
    /// The first night of the new count, a place in the list of nights.
    pub before: usize,
    /// Why.
    pub changes: Vec<Change>,
}

/// What the number of a rule does.
#[derive(Clone, Debug, PartialEq)]
pub struct Measure {
    /// Its name.
    pub name: String,
    /// Its unit.
    pub unit: String,
    /// Nights that have it.
    pub n_nights: usize,
    /// The slope.
    pub slope: Slope,
}

impl Habit {
    /// The nights since the last break.
    pub fn counted(&self) -> &[Dot] {
        &self.dots[self.breaks.last().map_or(0, |last| last.before)..]
    }
}

/// The habits that nights show, most frequent first: rules that fired at least once. What comes back whoever operates is left out.
pub fn habits(nights: &[Night], selection: &Selection, recurring: &[Recurring]) -> Vec<Habit> {
    let rules = RULES.iter().filter(|rule| selection.with_gear || rule.page != Page::Lead);
    let mut habits: Vec<Habit> = rules
        .filter_map(|rule| {
            let counts = |one: &Observation| {
                one.rule == rule.id
                    && selection.holds(one)
                    && !recurring.iter().any(|known| known.is(one))
            };
            habit(rule, nights, counts)
        })
        .collect();
    judge_together(&mut habits);
    // The sort keeps register order among equals.
    habits.sort_by(|a, b| b.rate.share.total_cmp(&a.rate.share));
    habits
}

impl Selection {
    fn holds(&self, one: &Observation) -> bool {
        self.role.is_none_or(|role| Role::from_word(&one.role) == Some(role))
            && self.channel.as_deref().is_none_or(|channel| {
                is_same_name(channel, &one.channel)
                    || one.channel.split(" + ").any(|name| is_same_name(channel, name))
            })
    }
}

/// One night of one rule, with what tells whether it compares with the next.
struct Tally<'a> {
    night: &'a Night,
    dot: Dot,
    tap: &'a str,
    rule_version: &'a str,
}

fn habit(
    rule: &'static Rule,
    nights: &[Night],
    counts: impl Fn(&Observation) -> bool,
) -> Option<Habit> {
    let tallies: Vec<Tally<'_>> = nights.iter().filter_map(|night| tally(night, &counts)).collect();
    let mut breaks = Vec::new();
    for (idx, pair) in tallies.windows(2).enumerate() {
        let mut changes = change::between(pair[0].night, pair[1].night);
        changes.extend((pair[0].tap != pair[1].tap).then_some(Change::Tap));
        changes.extend((pair[0].rule_version != pair[1].rule_version).then_some(Change::Rule));
        if !changes.is_empty() {
            breaks.push(Break { before: idx + 1, changes });
        }
    }
    let dots: Vec<Dot> = tallies.into_iter().map(|tally| tally.dot).collect();
    if dots.iter().all(|dot| dot.rate.n_hits == 0) {
        return None;
    }
    let counted = &dots[breaks.last().map_or(0, |last: &Break| last.before)..];
    let sum = |count: fn(&Rate) -> u32| counted.iter().map(|dot| count(&dot.rate)).sum();
    let rate = Rate::of(sum(|rate| rate.n_hits), sum(|rate| rate.n_chances))?;
    let shares: Vec<f64> = counted.iter().map(|dot| dot.rate.share).collect();
    let trend = (counted.len() >= TESTED_FROM).then(|| kendall::trend(&shares));
    let measure = measure(counted);
    let verdict = Verdict::of(counted.len(), 0, 1.0);
    Some(Habit { rule, dots, breaks, rate, trend, p_together: None, measure, verdict })
}

/// What a night says about a rule; nothing if it had no chance.
fn tally<'a>(night: &'a Night, counts: &impl Fn(&Observation) -> bool) -> Option<Tally<'a>> {
    let record = &night.record;
    let is_counted = |one: &&Observation| counts(one) && record.is_own(one);
    let ones: Vec<&Observation> = record.observations.iter().filter(is_counted).collect();
    let sum = |count: fn(&Observation) -> u32| ones.iter().map(|one| count(one)).sum();
    let rate = Rate::of(sum(|one| one.n_hits), sum(|one| one.n_chances))?;
    let tap = most(ones.iter().map(|one| one.tap.as_str()))?;
    let dot = Dot { day: night.day.clone(), rate, number: number(&ones) };
    Some(Tally { night, dot, tap, rule_version: &ones.first()?.rule_version })
}

/// The middle one of the numbers of a night; the name that most of them have.
fn number(ones: &[&Observation]) -> Option<(String, f64, String)> {
    let named = ones.iter().filter(|one| one.value.is_some());
    let name = most(named.filter_map(|one| one.number.as_deref()))?;
    let same: Vec<&&Observation> =
        ones.iter().filter(|one| one.number.as_deref() == Some(name)).collect();
    let values: Vec<f64> = same.iter().filter_map(|one| one.value).collect();
    let unit = same.first()?.unit.clone()?;
    Some((name.to_owned(), median(&values)?, unit))
}

/// The word that comes most often; of equals the first by alphabet.
fn most<'a>(words: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    for word in words {
        *counts.entry(word).or_default() += 1;
    }
    counts.into_iter().rev().max_by_key(|(_, count)| *count).map(|(word, _)| word)
}

/// The slope of the number that most nights have.
fn measure(counted: &[Dot]) -> Option<Measure> {
    let numbers = counted.iter().filter_map(|dot| dot.number.as_ref());
    let name = most(numbers.clone().map(|(name, _, _)| name.as_str()))?;
    let same: Vec<&(String, f64, String)> = numbers.filter(|(own, _, _)| own == name).collect();
    if same.len() < SHOWN_FROM {
        return None;
    }
    let values: Vec<f64> = same.iter().map(|(_, value, _)| *value).collect();
    Some(Measure {
        name: name.to_owned(),
        unit: same[0].2.clone(),
        n_nights: values.len(),
        slope: slope::slope(&values)?,
    })
}

/// Holds the probability of every trend to all of them together, and finds the words.
fn judge_together(habits: &mut [Habit]) {
    let alone: Vec<f64> = habits.iter().filter_map(|habit| habit.trend.map(|one| one.p)).collect();
    let mut together = holm::adjusted(&alone).into_iter();
    for habit in habits {
        let Some(trend) = habit.trend else { continue };
        habit.p_together = together.next();
        let n_nights = habit.counted().len();
        habit.verdict = Verdict::of(n_nights, trend.s, habit.p_together.unwrap_or(1.0));
    }
}
