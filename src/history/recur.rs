//! What keeps coming back whoever operates: a matter of hall and gear, for the lead and not for an operator.

use std::collections::{BTreeMap, BTreeSet};

use super::read::Night;
use super::record::Observation;
use crate::trend::verdict::SHOWN_FROM;

/// Something comes back under a label if it happened this often of the times it could have (common practice).
const SHARE: f64 = 0.5;
/// Labels that have to have had it: with one it may be the operator.
const MIN_LABELS: usize = 2;

/// What comes back on a channel whoever operates.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Recurring {
    /// Id of the rule.
    pub rule: String,
    /// The channel; empty for the whole session.
    pub channel: String,
    /// Nights on which it was there.
    pub n_nights_hit: usize,
    /// Nights that could have shown it.
    pub n_nights: usize,
    /// Weeks in which it was there.
    pub n_weeks_hit: usize,
    /// Weeks that could have shown it.
    pub n_weeks: usize,
    /// Labels under which it came back: all that could have had it.
    pub n_labels: usize,
}

impl Recurring {
    /// Whether an observation is one of these.
    pub(super) fn is(&self, one: &Observation) -> bool {
        self.rule == one.rule && self.channel == one.channel
    }
}

/// One thing that may come back.
#[derive(Default)]
struct Tally<'a> {
    nights: BTreeSet<usize>,
    nights_hit: BTreeSet<usize>,
    weeks: BTreeSet<i64>,
    weeks_hit: BTreeSet<i64>,
    /// Hits and chances of each label.
    labels: BTreeMap<&'a str, (u32, u32)>,
}

/// What comes back whoever operates: on four nights or more that could have shown it, under two labels or more, and at least half of
/// the time under each of them. The most frequent first.
pub fn recurring(nights: &[Night]) -> Vec<Recurring> {
    let mut tallies: BTreeMap<(&str, &str), Tally<'_>> = BTreeMap::new();
    for (idx, night) in nights.iter().enumerate() {
        let label = night.record.operator.as_deref().unwrap_or("");
        for one in night.record.observations.iter().filter(|one| night.record.is_so(one)) {
            let tally = tallies.entry((&one.rule, &one.channel)).or_default();
            tally.nights.insert(idx);
            tally.weeks.insert(night.week);
            let (n_hits, n_chances) = tally.labels.entry(label).or_default();
            *n_hits += one.n_hits;
            *n_chances += one.n_chances;
            if one.n_hits > 0 {
                tally.nights_hit.insert(idx);
                tally.weeks_hit.insert(night.week);
            }
        }
    }
    let mut found: Vec<Recurring> = tallies
        .into_iter()
        .filter(|(_, tally)| comes_back(tally))
        .map(|((rule, channel), tally)| Recurring {
            rule: rule.to_owned(),
            channel: channel.to_owned(),
            n_nights_hit: tally.nights_hit.len(),
            n_nights: tally.nights.len(),
            n_weeks_hit: tally.weeks_hit.len(),
            n_weeks: tally.weeks.len(),
            n_labels: tally.labels.len(),
        })
        .collect();
    // The sort keeps the order of names among equals.
    found.sort_by(|a, b| (b.n_nights_hit * a.n_nights).cmp(&(a.n_nights_hit * b.n_nights)));
    found
}

fn comes_back(tally: &Tally<'_>) -> bool {
    let is_often =
        |&(n_hits, n_chances): &(u32, u32)| f64::from(n_hits) >= SHARE * f64::from(n_chances);
    tally.nights.len() >= SHOWN_FROM
        && tally.labels.len() >= MIN_LABELS
        && tally.labels.values().all(is_often)
}

/// What the next training evening could be about: of the rules `is_first`, the one that fired most often of its chances, under two
/// labels or more. No names.
pub fn topic(
    nights: &[Night],
    recurring: &[Recurring],
    is_first: impl Fn(&str) -> bool,
) -> Option<String> {
    let mut counts: BTreeMap<&str, (u64, u64, BTreeSet<&str>)> = BTreeMap::new();
    for night in nights {
        let label = night.record.operator.as_deref().unwrap_or("");
        let own = night.record.observations.iter().filter(|one| is_first(&one.rule));
        let own = own.filter(|one| night.record.is_so(one));
        for one in own.filter(|one| !recurring.iter().any(|known| known.is(one))) {
            let (n_hits, n_chances, labels) = counts.entry(&one.rule).or_default();
            *n_hits += u64::from(one.n_hits);
            *n_chances += u64::from(one.n_chances);
            if one.n_hits > 0 {
                labels.insert(label);
            }
        }
    }
    counts
        .into_iter()
        .filter(|(_, (_, _, labels))| labels.len() >= MIN_LABELS)
        // Of equals the first by name.
        .rev()
        .max_by(|(_, (a, of_a, _)), (_, (b, of_b, _))| (a * of_b).cmp(&(b * of_a)))
        .map(|(rule, _)| rule.to_owned())
}
