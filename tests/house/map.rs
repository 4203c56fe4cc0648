//! The map in DEVELOPERS.md: which module uses which, and who touches the outside.

use std::collections::{BTreeMap, BTreeSet};

use super::expect_none;
use super::source::{self, File};

/// Parts of the standard library that reach outside the program: a module lists them like a crate.
const WATCHED_STD: [&str; 7] = ["env", "fs", "io", "net", "process", "thread", "time"];

/// What a module may use.
#[derive(Debug, Default)]
struct Row {
    modules: BTreeSet<String>,
    outside: BTreeSet<String>,
}

/// Reads the table below the heading `## The map`.
fn read_map(developers: &str) -> BTreeMap<String, Row> {
    let section = developers.split("\n## The map").nth(1).unwrap_or_default();
    let section = section.split("\n## ").next().unwrap_or_default();
    let lines = section.lines().filter(|line| line.starts_with("| `"));
    lines
        .map(|line| {
            let cells: Vec<&str> = line.trim_matches('|').split('|').collect();
            assert!(cells.len() == 4, "a row of the map has four cells: {line}");
            let row = Row { modules: quoted(cells[2]), outside: quoted(cells[3]) };
            (quoted(cells[0]).into_iter().next().unwrap_or_default(), row)
        })
        .collect()
}

fn quoted(cell: &str) -> BTreeSet<String> {
    cell.split('`').skip(1).step_by(2).map(str::to_owned).collect()
}

/// Names that follow a path prefix in code: `crate::a::b` and `crate::{a, b::c}` give `a` and `b`.
fn names_after(code: &str, prefix: &str) -> BTreeSet<String> {
    let mut names = BTreeSet::new();
    for (at, _) in code.match_indices(prefix) {
        let before = code[..at].chars().next_back();
        if before.is_some_and(|c| c.is_alphanumeric() || c == '_' || c == ':') {
            continue;
        }
        let after = code[at + prefix.len()..].trim_start();
        match after.strip_prefix('{') {
            Some(list) => names.extend(listed(list)),
            None => names.extend(identifier(after)),
        }
    }
    names
}

/// First names of the items in a braced import list, whose opening brace is already taken.
fn listed(list: &str) -> Vec<String> {
    let mut depth = 1;
    let mut items = vec![String::new()];
    for c in list.chars() {
        match c {
            '{' => depth += 1,
            '}' => depth -= 1,
            ',' if depth == 1 => items.push(String::new()),
            _ if depth == 1 => items.last_mut().unwrap().push(c),
            _ => {}
        }
        if depth == 0 {
            break;
        }
    }
    items.iter().filter_map(|item| identifier(item.trim())).collect()
}

fn identifier(text: &str) -> Option<String> {
    let name: String = text.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
    (!name.is_empty()).then_some(name)
}

/// The module a source belongs to: `src/dsp/group.rs` and `src/dsp/mod.rs` to `dsp`, `src/run.rs` to `run`.
fn module_of(path: &str) -> Option<&str> {
    let first = path.strip_prefix("src/")?.split('/').next()?;
    let name = first.strip_suffix(".rs").unwrap_or(first);
    (name != "lib" && name != "main").then_some(name)
}

/// What a source uses: modules of the crate, and things outside it (crates, watched parts of `std`).
fn uses(code: &str, crates: &[String]) -> (BTreeSet<String>, BTreeSet<String>) {
    let modules = names_after(code, "crate::");
    let mut outside: BTreeSet<String> = WATCHED_STD
        .iter()
        .filter(|name| names_after(code, "std::").contains(**name))
        .map(|name| format!("std::{name}"))
        .collect();
    outside.extend(
        crates.iter().filter(|name| !names_after(code, &format!("{name}::")).is_empty()).cloned(),
    );
    (modules, outside)
}

/// Names of the crates in a section of Cargo.toml, as code writes them.
fn crates_in(cargo: &str) -> Vec<String> {
    let table: toml::Table = cargo.parse().unwrap();
    table["dependencies"].as_table().unwrap().keys().map(|name| name.replace('-', "_")).collect()
}

/// Complaints about sources that use what their row of the map doesn't list.
fn check(map: &BTreeMap<String, Row>, files: &[File], crates: &[String]) -> Vec<String> {
    let mut complaints = Vec::new();
    for file in files {
        let Some(module) = module_of(&file.path) else { continue };
        let Some(row) = map.get(module) else {
            complaints.push(format!("{}: the map has no row for `{module}`", file.path));
            continue;
        };
        let (modules, outside) = uses(&source::code_only(&file.text), crates);
        for used in modules.iter().filter(|used| map.contains_key(*used) && *used != module) {
            if !row.modules.contains(used) {
                complaints.push(format!("{}: `{module}` may not use `{used}`", file.path));
            }
        }
        for used in outside.difference(&row.outside) {
            complaints.push(format!("{}: `{module}` may not use `{used}`", file.path));
        }
    }
    complaints
}

#[test]
fn modules_keep_to_the_map_in_developers_md() {
    let map = read_map(&source::read("DEVELOPERS.md"));
    let crates = crates_in(&source::read("Cargo.toml"));
    expect_none(&check(&map, &source::below("src", &[".rs"]), &crates));
}

#[test]
fn every_row_of_the_map_has_a_module_and_every_module_is_named_in_lib() {
    let map = read_map(&source::read("DEVELOPERS.md"));
    let lib = source::read("src/lib.rs");
    let declared: BTreeSet<&str> =
        lib.lines().filter_map(|line| line.strip_prefix("pub mod ")?.strip_suffix(';')).collect();
    let mapped: BTreeSet<&str> = map.keys().map(String::as_str).collect();
    assert_eq!(mapped, declared, "the map (left) and src/lib.rs (right) name the same modules");
}

#[test]
fn the_map_points_in_one_direction() {
    let map = read_map(&source::read("DEVELOPERS.md"));
    for (module, row) in &map {
        for used in &row.modules {
            let back = map.get(used).is_some_and(|other| other.modules.contains(module));
            assert!(!back, "`{module}` and `{used}` use each other");
        }
    }
}

#[test]
fn a_forbidden_use_is_seen() {
    let map = read_map(
        "\n## The map\n| `unit` | x | | |\n| `report` | x | `unit` | `serde` |\n| `audio` | x | | |\n",
    );
    let crates = ["serde".to_owned(), "rustfft".to_owned()];
    let file = |text: &str| File { path: "src/report/table.rs".to_owned(), text: text.to_owned() };
    let complain = |text: &str| check(&map, &[file(text)], &crates).len();
    assert_eq!(complain("use crate::unit::Span;\nuse serde::Serialize; // crate::audio"), 0);
    assert_eq!(complain("use crate::{unit::{Fact, Span}, audio::Stream};"), 1);
    assert_eq!(complain("fn f() { crate::audio::open(); }"), 1);
    assert_eq!(complain("use std::{fmt, fs};"), 1);
    assert_eq!(complain("fn f() { rustfft::plan(); std::time::Instant::now(); }"), 2);
    let stray = File { path: "src/helpers.rs".to_owned(), text: String::new() };
    assert_eq!(check(&map, &[stray], &crates).len(), 1, "a module without a row");
}
