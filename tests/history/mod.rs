//! The history: what is kept, how it survives, what is counted from it, and how it goes again.

mod good;
mod habit;
mod kill;
mod page;
mod past;
mod program;
mod record;
mod store;
mod weeks;

use deskside::history::{Night, Observation, Record};

/// A judgement of a rule on a channel: hits of chances.
fn seen(rule: &str, channel: &str, n_hits: u32, n_chances: u32) -> Observation {
    Observation {
        rule: rule.to_owned(),
        rule_version: "one".to_owned(),
        channel: channel.to_owned(),
        role: "speech".to_owned(),
        tap: "raw".to_owned(),
        n_hits,
        n_chances,
        confidence: 0.9,
        ..Observation::default()
    }
}

/// A session of an operator on the so-manieth day of a month.
fn record(day: usize, operator: &str, observations: Vec<Observation>) -> Record {
    Record {
        name: "rehearsal".to_owned(),
        date: Some(format!("2031-05-{day:02}")),
        operator: Some(operator.to_owned()),
        place: Some("hall".to_owned()),
        style: "song-led".to_owned(),
        is_rehearsal: true,
        duration_s: 5400.0,
        inputs: ["LV", "Kik", "Host HH"].map(str::to_owned).to_vec(),
        observations,
        ..Record::default()
    }
}

/// The same as it comes back from the history; every night in a week of its own.
fn night(day: usize, operator: &str, observations: Vec<Observation>) -> Night {
    let record = record(day, operator, observations);
    Night { day: record.date.clone().unwrap(), week: day as i64, record }
}
