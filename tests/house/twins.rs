//! Every kernel, measurement and relation has its independent witness, and the witness is part of the test program.

use std::collections::BTreeSet;

use super::expect_none;
use super::source::{self, File};

/// The modules whose files each have a twin.
const MIRRORED: [&str; 4] = ["dsp", "measure", "relate", "trend"];

/// Where the twin of a source lies; a family in a folder of its own (`src/dsp/lanes/…`) shares one twin or has one each.
fn places(path: &str) -> Vec<String> {
    let Some(inner) = path.strip_prefix("src/") else { return Vec::new() };
    let mut places = vec![format!("tests/{inner}")];
    let parts: Vec<&str> = inner.split('/').collect();
    if parts.len() > 2 {
        places.push(format!("tests/{}/{}.rs", parts[0], parts[1]));
    }
    places
}

/// Complaints about sources without a twin, and twins that are not declared or hold no test.
fn check(sources: &[File], tests: &[File]) -> Vec<String> {
    let declared: BTreeSet<String> = tests
        .iter()
        .filter_map(|file| Some((file.path.strip_suffix("mod.rs")?, &file.text)))
        .flat_map(|(folder, text)| {
            let names =
                text.lines().filter_map(|line| line.strip_prefix("mod ")?.strip_suffix(';'));
            names.flat_map(move |name| {
                [format!("{folder}{name}.rs"), format!("{folder}{name}/mod.rs")]
            })
        })
        .collect();
    let is_witness = |path: &String| {
        let file = tests.iter().find(|file| file.path == *path);
        file.is_some_and(|file| {
            declared.contains(path) && source::code_only(&file.text).contains("#[test]")
        })
    };
    let alone = sources
        .iter()
        .filter(|file| !file.path.ends_with("/mod.rs"))
        .filter(|file| !places(&file.path).iter().any(is_witness));
    alone.map(|file| format!("{}: no twin with tests under tests/", file.path)).collect()
}

/// Paths of the modules that a `mod.rs` declares without making them public.
fn private_modules(roots: &[File]) -> BTreeSet<String> {
    let names =
        roots.iter().filter_map(|file| Some((file.path.strip_suffix("mod.rs")?, &file.text)));
    names
        .flat_map(|(folder, text)| {
            let names =
                text.lines().filter_map(|line| line.strip_prefix("mod ")?.strip_suffix(';'));
            names.map(move |name| format!("{folder}{name}.rs"))
        })
        .collect()
}

#[test]
fn only_modules_without_pub_are_private() {
    let file = File {
        path: "src/relate/mod.rs".to_owned(),
        text: "pub mod activity;\nmod frames;\n".to_owned(),
    };
    let found = private_modules(&[file]);
    assert_eq!(found.into_iter().collect::<Vec<_>>(), ["src/relate/frames.rs"]);
}

#[test]
fn every_measurement_has_an_independent_check() {
    let tests = source::below("tests", &[".rs"]);
    let private = private_modules(&source::below("src", &["mod.rs"]));
    let folders = MIRRORED.iter().map(|module| source::below(&format!("src/{module}"), &[".rs"]));
    // What is private to a family is a part of what uses it, and is tested through that.
    let sources: Vec<File> =
        folders.flatten().filter(|file| !private.contains(&file.path)).collect();
    expect_none(&check(&sources, &tests));
}

#[test]
fn a_missing_twin_is_seen() {
    let file = |path: &str, text: &str| File { path: path.to_owned(), text: text.to_owned() };
    let source = [file("src/dsp/level.rs", "")];
    let family = file("tests/dsp/mod.rs", "mod level;\n");
    let twin = file("tests/dsp/level.rs", "#[test]\nfn silence_has_no_power() {}\n");
    let missing = |tests: &[File]| check(&source, tests).len();
    assert_eq!(missing(&[]), 1, "no twin");
    assert_eq!(missing(&[file("tests/dsp/level.rs", &twin.text)]), 1, "not declared");
    assert_eq!(
        missing(&[
            file("tests/dsp/level.rs", "// #[test]"),
            file("tests/dsp/mod.rs", "mod level;\n")
        ]),
        1
    );
    assert_eq!(missing(&[family, twin]), 0);
}
