//! How well feedback and the hall are heard: simulated loops, held notes and halls on seeds that nothing was set with, beside the
//! published criteria. Writes its tables into docs/accuracy.md.
//!
//! `cargo bench --profile dev --bench hall` takes some minutes; `-- --print` writes nothing; `-- --howls N` prints the table of howls of the
//! clips from seed N on, and writes nothing: work on the program with those below 400,000.

#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "a benchmark prints its figures and stops where it can't go on"
)]

mod document;
#[path = "../accuracy/hall/mod.rs"]
mod hall;
#[path = "../support/held.rs"]
mod held;
#[expect(dead_code, reason = "when a loop howls is for other tests")]
#[path = "../support/howling.rs"]
mod howling;
#[path = "../support/places.rs"]
mod places;
#[expect(dead_code, reason = "its files and noises are for other tests")]
#[path = "../support/planted.rs"]
mod planted;
#[path = "../support/rooms.rs"]
mod rooms;
#[expect(dead_code, reason = "the benchmark needs its dice alone")]
#[path = "../support/signals.rs"]
mod signals;

mod support {
    pub(crate) use crate::{held, howling, places, rooms, signals};
}

/// The marks in docs/accuracy.md between which the tables stand.
const MARKS: (&str, &str) = ("<!-- hall -->\n", "<!-- /hall -->");

fn main() {
    let words: Vec<String> = std::env::args().collect();
    if let Some(at) = words.iter().position(|word| word == "--howls") {
        println!("{}", hall::howls_from(words[at + 1].parse().unwrap()));
        return;
    }
    let tables = hall::tables();
    println!("{tables}");
    if !words.iter().any(|word| word == "--print") {
        document::put("accuracy.md", MARKS, &tables);
    }
}
