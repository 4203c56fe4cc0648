//! Every coaching rule carries its specification: a case in which it speaks and one at the edge in which it doesn't.

use super::expect_none;
use super::source::{self, File};

/// Complaints about rule files without the two tests, or outside the register.
fn check(files: &[File], register: &str) -> Vec<String> {
    let mut complaints = Vec::new();
    for file in files.iter().filter(|file| !file.path.ends_with("/mod.rs")) {
        let code = source::code_only(&file.text);
        for start in ["fn fires_", "fn stays_quiet_"] {
            if !code.contains(start) {
                complaints.push(format!("{}: no test `{start}…`", file.path));
            }
        }
        let name = file.path.rsplit('/').next().unwrap().trim_end_matches(".rs");
        if !register.contains(&format!("mod {name};")) {
            complaints.push(format!("{}: not in the register", file.path));
        }
    }
    complaints
}

#[test]
fn every_rule_is_registered_and_shows_when_it_fires_and_when_it_stays_quiet() {
    if !source::top().join("src/coach/rules").exists() {
        return;
    }
    expect_none(&check(
        &source::below("src/coach/rules", &[".rs"]),
        &source::read("src/coach/rules/mod.rs"),
    ));
}

#[test]
fn a_rule_without_tests_or_register_is_seen() {
    let file =
        |text: &str| File { path: "src/coach/rules/mud.rs".to_owned(), text: text.to_owned() };
    let both = "#[test]\nfn fires_at_4_db() {}\n#[test]\nfn stays_quiet_at_the_edge() {}\n";
    assert_eq!(check(&[file(both)], "mod mud;").len(), 0);
    assert_eq!(check(&[file("// fn fires_x")], "mod mud;").len(), 2);
    assert_eq!(check(&[file(both)], "mod thin;").len(), 1);
}
