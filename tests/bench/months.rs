//! How long habits take with many stored sessions, and how large the history is.
//!
//! `cargo bench --bench months -- 10000` stores so many sessions of 32 channels and asks for habits.

#![expect(clippy::print_stdout, reason = "a benchmark prints its figures")]

use std::fs;
use std::time::Instant;

use deskside::coach::{self, RULES};
use deskside::history::{Observation, Record, Selection, Store, habits, recurring, topic};

const N_CHANNELS: usize = 32;
/// Rules that judge a channel, as in a full review of a band.
const N_RULES: usize = 9;
const OPERATORS: [&str; 12] = [
    "wren", "heron", "kestrel", "robin", "dunnock", "plover", "siskin", "linnet", "curlew",
    "avocet", "merlin", "dipper",
];
/// Sessions that go in at once: waiting for the disk is not what is measured.
const N_AT_ONCE: usize = 100;
/// Sessions that habits look back on.
const N_LAST: usize = 52;

fn main() {
    let given = std::env::args().skip(1).find_map(|argument| argument.parse().ok());
    let n_sessions: usize = given.unwrap_or(10_000);
    let dir = tempfile::tempdir().expect("there is room for a scratch folder");
    let path = dir.path().join("history.sqlite");
    let mut store = Store::open(&path).expect("the history can be made");
    let begin = Instant::now();
    for first in (0..n_sessions).step_by(N_AT_ONCE) {
        let records: Vec<Record> = (first..n_sessions.min(first + N_AT_ONCE)).map(record).collect();
        store.remember_all(&records).expect("there is room on the disk");
    }
    let each_ms = 1e3 * begin.elapsed().as_secs_f64() / n_sessions as f64;
    let size = fs::metadata(&path).expect("the file is there").len();
    println!("{n_sessions} sessions of {} observations", N_CHANNELS * N_RULES);
    println!("storing: {each_ms:.1} ms a session");
    println!(
        "size: {:.1} kB a session, {:.0} MB",
        size as f64 / 1e3 / n_sessions as f64,
        size as f64 / 1e6
    );
    for operator in [None, Some("wren")] {
        let begin = Instant::now();
        let store = Store::open_existing(&path).expect("the history is there");
        let team = store.nights(None, N_LAST).expect("it can be read");
        let nights = store.nights(operator, N_LAST).expect("it can be read");
        let recurring = recurring(&team);
        let found = habits(&nights, &Selection::default(), &recurring);
        let topic = topic(&team, &recurring, coach::is_starter);
        let ms = 1e3 * begin.elapsed().as_secs_f64();
        println!(
            "habits of {}: {ms:.0} ms, {} rules, topic {topic:?}",
            operator.unwrap_or("the team"),
            found.len()
        );
    }
}

/// A session of all channels; what is off target changes from night to night.
fn record(number: usize) -> Record {
    let observation = |at: usize| Observation {
        rule: RULES[at % N_RULES].id.to_owned(),
        rule_version: "00000001".to_owned(),
        channel: format!("channel {}", at / N_RULES),
        role: "lead-vocal".to_owned(),
        tap: "raw".to_owned(),
        n_hits: u32::from((number * 7 + at * 13).is_multiple_of(5)),
        n_chances: 1,
        severity: None,
        number: Some("loud level".to_owned()),
        value: Some(-20.0 - (number % 7) as f64),
        unit: Some("dBFS".to_owned()),
        confidence: 0.9,
    };
    Record {
        name: format!("session {number}"),
        date: Some(format!(
            "{:04}-{:02}-{:02}",
            2031 + number / 336,
            1 + number / 28 % 12,
            1 + number % 28
        )),
        operator: Some(OPERATORS[number % OPERATORS.len()].to_owned()),
        place: Some("hall".to_owned()),
        style: "song-led".to_owned(),
        is_rehearsal: true,
        duration_s: 5400.0,
        inputs: (0..N_CHANNELS).map(|at| format!("channel {at}")).collect(),
        observations: (0..N_CHANNELS * N_RULES).map(observation).collect(),
        ..Record::default()
    }
}
