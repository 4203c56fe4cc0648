//! What stored sessions say to the review of one night.
//!
//! Takes the nights before it, gives what the choice of notes needs. The night itself never counts, nor what came after it: a review
//! that is made anew says the same.

use super::read::Night;
use super::record::{Observation, Record};
use super::recur::recurring;
use super::store::{Store, broken};
use crate::coach::{Past, PastNight, Seen, Verdict};
use crate::error::Error;

/// Nights looked back on.
const N_NIGHTS: usize = 52;

impl Store {
    /// What the sessions up to a date say to one of an operator that is told from others by `identity`.
    ///
    /// # Errors
    ///
    /// If the file can't be read.
    pub fn past(
        &self,
        operator: Option<&str>,
        date: Option<&str>,
        identity: &str,
    ) -> Result<Past, Error> {
        let before = |operator: Option<&str>| -> Result<Vec<Night>, Error> {
            let mut nights = self
                .nights_until(operator, date, N_NIGHTS)
                .map_err(|error| broken(&self.path, &error))?;
            nights.retain(|night| night.record.identity() != identity);
            Ok(nights)
        };
        let team = before(None)?;
        let own = operator.map_or(Ok(Vec::new()), |label| before(Some(label)))?;
        let mut past = past(&own, &team);
        if let Some(label) = operator {
            past.n_sessions = self.n_sessions_of(label, identity)?;
        }
        Ok(past)
    }
}

/// The same from nights, oldest first.
pub fn past(own: &[Night], team: &[Night]) -> Past {
    let mut past = Past {
        n_sessions: own.len(),
        own: own.iter().rev().map(|night| seen(night, Record::is_own)).collect(),
        team: team.iter().rev().map(|night| seen(night, Record::is_so)).collect(),
        common: recurring(team).into_iter().map(|one| (one.rule, one.channel)).collect(),
        ..Past::default()
    };
    for marked in team.iter().flat_map(|night| &night.record.marks) {
        let (n_right, n_all) = past.marks.entry(marked.rule.clone()).or_default();
        *n_right += usize::from(marked.mark != Verdict::DoesNotFit.id());
        *n_all += 1;
    }
    past
}

/// A night without what was marked so that it doesn't count.
fn seen(night: &Night, counts: fn(&Record, &Observation) -> bool) -> PastNight {
    let record = &night.record;
    let one = |one: &Observation| Seen {
        rule: one.rule.clone(),
        rule_version: one.rule_version.clone(),
        place: one.channel.clone(),
        is_hit: one.n_hits > 0,
    };
    PastNight {
        focus: record.focus.clone(),
        seen: record.observations.iter().filter(|one| counts(record, one)).map(one).collect(),
    }
}
