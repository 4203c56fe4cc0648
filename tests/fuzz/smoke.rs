//! The fuzz targets fed with their seeds and some thousand changed ones: a fuzzer's build would cost minutes.
//!
//! The changes are drawn from one fixed start, so that a failure comes again.

use std::fs;
use std::path::Path;
use std::time::{Duration, Instant};

use deskside::coach::{Aims, Options, Stored, coach};
use deskside::report::json::{Review, SCHEMA};

use super::bodies;
use crate::support::evening::evening;
use crate::support::signals::Rng;

/// Longest time for one input; the fuzzer allows the same.
const MOST: Duration = Duration::from_secs(10);

/// Values at the borders of sizes, and marks that readers look for.
const NASTY: [&[u8]; 14] = [
    &[0; 4],
    &[0xff; 4],
    &[0xff; 8],
    &[0xff, 0xff, 0xff, 0x7f],
    &[0, 0, 0, 0x80],
    b"data",
    b"fmt ",
    b"ds64",
    b"\"",
    b"[",
    b"{",
    b"-9e999",
    b"\n",
    "\u{feff}\u{301}".as_bytes(),
];

/// A reader and what must hold of it.
type Target = fn(&[u8]);

/// Every target with the number of changed inputs: what takes long gets fewer.
const TARGETS: [(&str, Target, usize); 8] = [
    ("chunks", bodies::chunks, 1_500),
    ("coded", bodies::coded, 300),
    ("note", bodies::note, 800),
    ("aims", bodies::aims, 800),
    ("marks", bodies::marks, 1_500),
    ("review", bodies::review, 60),
    ("names", bodies::names, 800),
    ("meters", bodies::meters, 100),
];

fn seeds(target: &str) -> Vec<Vec<u8>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz/seeds").join(target);
    let entries = fs::read_dir(&folder).unwrap_or_else(|error| panic!("{target}: {error}"));
    let mut paths: Vec<_> = entries.map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    paths.iter().map(|path| fs::read(path).unwrap()).collect()
}

/// The seed with some bytes replaced, put in, taken out, or its end cut off.
fn changed(seed: &[u8], rng: &mut Rng) -> Vec<u8> {
    let mut bytes = seed.to_vec();
    for _ in 0..=rng.bits() % 4 {
        let at = rng.bits() as usize % (bytes.len() + 1);
        let nasty = NASTY[rng.bits() as usize % NASTY.len()];
        match rng.bits() % 5 {
            0 => drop(bytes.splice(at..at, nasty.iter().copied())),
            1 => {
                let end = (at + nasty.len()).min(bytes.len());
                bytes.splice(at..end, nasty.iter().copied());
            }
            2 => {
                let end = (at + 1 + rng.bits() as usize % 8).min(bytes.len());
                bytes.drain(at..end);
            }
            3 if at < bytes.len() => bytes[at] ^= 1 << (rng.bits() % 8),
            _ if rng.bits().is_multiple_of(8) => bytes.truncate(at),
            _ => {}
        }
    }
    bytes
}

fn feed(name: &str, target: Target, n_changed: usize) {
    let seeds = seeds(name);
    assert!(!seeds.is_empty(), "{name} has seeds");
    let mut rng = Rng::new(n_changed as u64);
    for idx in 0..seeds.len() + n_changed {
        let seed = &seeds[idx % seeds.len()];
        let bytes = if idx < seeds.len() { seed.clone() } else { changed(seed, &mut rng) };
        let begin = Instant::now();
        let outcome = std::panic::catch_unwind(|| target(&bytes));
        let text = String::from_utf8_lossy(&bytes);
        assert!(outcome.is_ok(), "{name}, input {idx}: {text:.2000}");
        assert!(begin.elapsed() < MOST, "{name}, input {idx} took {:?}", begin.elapsed());
    }
}

#[test]
fn hostile_bytes_are_survived_by_every_reader() {
    for (name, target, n_changed) in TARGETS {
        feed(name, target, n_changed);
    }
}

#[test]
fn every_target_is_built_and_has_seeds() {
    let manifest = include_str!("Cargo.toml");
    let n_built = manifest.matches("[[bin]]").count();
    assert_eq!(n_built, TARGETS.len(), "targets of the manifest");
    let script = include_str!("run");
    for (name, ..) in TARGETS {
        assert!(manifest.contains(&format!("path = \"targets/{name}.rs\"")), "{name} is built");
        assert!(script.contains(name), "{name} is run");
    }
}

#[test]
fn right_inputs_are_read_and_not_only_survived() {
    let read = |target: &str| {
        let texts = seeds(target).into_iter().filter_map(|seed| String::from_utf8(seed).ok());
        texts.collect::<Vec<_>>()
    };
    let note = Path::new("session.toml");
    assert!(read("note").iter().any(|text| deskside::session::note::parse(text, note).is_ok()));
    assert!(read("aims").iter().any(|text| Aims::parse(text).is_ok()));
    assert!(read("marks").iter().any(|text| deskside::coach::Marks::parse(text).is_ok()));
}

#[test]
fn the_review_that_is_changed_can_be_read() {
    if std::env::var_os("UPDATE").is_some_and(|value| value == "1") {
        let reading = evening();
        let advice = coach(&reading, &Aims::default(), &Options::default());
        let json: serde_json::Value =
            serde_json::from_str(&Review::new(&reading, &advice).to_json()).unwrap();
        let path =
            Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz/seeds/review/evening.json");
        fs::write(path, json.to_string() + "\n").unwrap();
        return;
    }
    let stored = Stored::read(bodies::REVIEW, SCHEMA);
    let stored = stored.expect("run `UPDATE=1 cargo test fuzz` after a change of the format");
    assert!(stored.findings().count() > 0, "it holds notes");
}
