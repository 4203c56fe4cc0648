//! Sessions read back from the history, oldest first.

use rusqlite::{Connection, OptionalExtension, Row, params};
use serde::Serialize;

use super::record::{Marked, Note, Observation, Record};
use super::store::{Store, broken};
use crate::error::Error;

/// One stored session.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Night {
    /// Its date, or the day on which it was stored.
    pub day: String,
    /// Number of its week, Monday to Sunday.
    #[serde(skip)]
    pub week: i64,
    /// What was kept of it.
    #[serde(flatten)]
    pub record: Record,
}

/// What a history holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Summary {
    /// Sessions.
    pub n_sessions: usize,
    /// Date of the first and of the last.
    pub dates: Option<(String, String)>,
    /// Sessions of each label, in alphabetical order; the empty label stands for none.
    pub labels: Vec<(String, usize)>,
}

impl Store {
    /// The last sessions of one operator, or of the whole team, oldest first.
    ///
    /// # Errors
    ///
    /// If the file can't be read.
    pub fn nights(&self, operator: Option<&str>, n_last: usize) -> Result<Vec<Night>, Error> {
        let mut nights = Vec::new();
        self.each_night(operator, n_last, |night| {
            nights.push(night);
            Ok::<(), Error>(())
        })?;
        Ok(nights)
    }

    /// Hands the last sessions of one operator, or of the whole team, to `each`, oldest first, one at a time.
    ///
    /// # Errors
    ///
    /// If the file can't be read, or what `each` gives.
    pub fn each_night<E: From<Error>>(
        &self,
        operator: Option<&str>,
        n_last: usize,
        mut each: impl FnMut(Night) -> Result<(), E>,
    ) -> Result<(), E> {
        let failed = |error: rusqlite::Error| E::from(broken(&self.path, &error));
        for id in ids(&self.connection, operator, None, n_last).map_err(failed)? {
            // A session that went since the list was made is left out.
            if let Some(night) = night(&self.connection, id).map_err(failed)? {
                each(night)?;
            }
        }
        Ok(())
    }

    /// The same up to a date, oldest first.
    pub(super) fn nights_until(
        &self,
        operator: Option<&str>,
        date: Option<&str>,
        n_last: usize,
    ) -> rusqlite::Result<Vec<Night>> {
        let ids = ids(&self.connection, operator, date, n_last)?;
        ids.into_iter().filter_map(|id| night(&self.connection, id).transpose()).collect()
    }

    /// What to say of a label without sessions. It names no other label: they are nobody else's business.
    pub fn unknown(&self, operator: &str) -> Error {
        Error::new(
            "cannot find in",
            &self.path,
            format!("there is no session of `{operator}`"),
            "check the spelling of the label",
        )
    }

    /// What the history holds.
    ///
    /// # Errors
    ///
    /// If the file can't be read.
    pub fn summary(&self) -> Result<Summary, Error> {
        summary(&self.connection).map_err(|error| broken(&self.path, &error))
    }
}

fn ids(
    connection: &Connection,
    operator: Option<&str>,
    until: Option<&str>,
    n_last: usize,
) -> rusqlite::Result<Vec<i64>> {
    let mut query = connection.prepare(
        "SELECT id FROM session
         WHERE (?1 IS NULL OR operator = ?1) AND (?2 IS NULL OR COALESCE(date, stored_on) <= ?2)
         ORDER BY COALESCE(date, stored_on) DESC, id DESC LIMIT ?3",
    )?;
    let n_last = i64::try_from(n_last).unwrap_or(i64::MAX);
    let found = query.query_map(params![operator, until, n_last], |row| row.get(0))?;
    let mut ids = found.collect::<rusqlite::Result<Vec<i64>>>()?;
    ids.reverse();
    Ok(ids)
}

fn night(connection: &Connection, id: i64) -> rusqlite::Result<Option<Night>> {
    // Day 0 of the Julian count was a Monday.
    let mut query = connection.prepare_cached(
        "SELECT name, date, operator, place, style, is_rehearsal, is_good, duration_s, inputs, COALESCE(date, stored_on),
                COALESCE(CAST(julianday(COALESCE(date, stored_on)) + 0.5 AS INTEGER) / 7, 0), focus
         FROM session WHERE id = ?1",
    )?;
    let head = query.query_row([id], head).optional()?;
    let Some(mut night) = head else { return Ok(None) };
    let mut query = connection.prepare_cached(
        "SELECT rule, rule_version, channel, role, tap, n_hits, n_chances, severity, number, value, unit, confidence
         FROM observation WHERE session = ?1 ORDER BY place",
    )?;
    night.record.observations =
        query.query_map([id], observation)?.collect::<rusqlite::Result<_>>()?;
    let mut query = connection
        .prepare_cached("SELECT page, rule FROM note WHERE session = ?1 ORDER BY place")?;
    let note = |row: &Row<'_>| Ok(Note { page: row.get(0)?, rule: row.get(1)? });
    night.record.notes = query.query_map([id], note)?.collect::<rusqlite::Result<_>>()?;
    let mut query = connection.prepare_cached(
        "SELECT rule, channels, mark FROM mark WHERE session = ?1 ORDER BY place",
    )?;
    night.record.marks = query.query_map([id], marked)?.collect::<rusqlite::Result<_>>()?;
    Ok(Some(night))
}

fn head(row: &Row<'_>) -> rusqlite::Result<Night> {
    let inputs: String = row.get(8)?;
    Ok(Night {
        day: row.get(9)?,
        week: row.get(10)?,
        record: Record {
            name: row.get(0)?,
            date: row.get(1)?,
            operator: row.get(2)?,
            place: row.get(3)?,
            style: row.get(4)?,
            is_rehearsal: row.get(5)?,
            is_good: row.get(6)?,
            duration_s: row.get(7)?,
            inputs: inputs.lines().map(str::to_owned).collect(),
            focus: row.get(11)?,
            ..Record::default()
        },
    })
}

fn observation(row: &Row<'_>) -> rusqlite::Result<Observation> {
    Ok(Observation {
        rule: row.get(0)?,
        rule_version: row.get(1)?,
        channel: row.get(2)?,
        role: row.get(3)?,
        tap: row.get(4)?,
        n_hits: row.get(5)?,
        n_chances: row.get(6)?,
        severity: row.get(7)?,
        number: row.get(8)?,
        value: row.get(9)?,
        unit: row.get(10)?,
        confidence: row.get(11)?,
    })
}

fn marked(row: &Row<'_>) -> rusqlite::Result<Marked> {
    let channels: String = row.get(1)?;
    Ok(Marked {
        rule: row.get(0)?,
        channels: channels.lines().map(str::to_owned).collect(),
        mark: row.get(2)?,
    })
}

fn summary(connection: &Connection) -> rusqlite::Result<Summary> {
    let mut query = connection
        .prepare("SELECT COALESCE(operator, ''), COUNT(*) FROM session GROUP BY 1 ORDER BY 1")?;
    let label = |row: &Row<'_>| {
        Ok((row.get::<_, String>(0)?, usize::try_from(row.get::<_, i64>(1)?).unwrap_or(0)))
    };
    let labels = query.query_map([], label)?.collect::<rusqlite::Result<Vec<_>>>()?;
    let ends = "SELECT MIN(COALESCE(date, stored_on)), MAX(COALESCE(date, stored_on)) FROM session";
    let dates = connection.query_row(ends, [], |row| {
        let (first, last): (Option<String>, Option<String>) = (row.get(0)?, row.get(1)?);
        Ok(first.zip(last))
    })?;
    Ok(Summary { n_sessions: labels.iter().map(|(_, n)| n).sum(), dates, labels })
}
