//! Words that have no place in the repository: unfinished work, and paths of somebody's machine.

use super::expect_none;
use super::source::{self, File};

/// Marks of unfinished work: what is in the repository holds, what doesn't hold is not in it.
const UNFINISHED: [&str; 7] =
    ["todo", "fixme", "xxx", "hack", "for now", "work in progress", "not implemented yet"];

/// Beginnings of paths that exist on one machine only.
const MACHINE_PATHS: [&str; 4] = ["/home/", "/work/", "/users/", "c:\\users"];

/// Lines that hold a word of the list as a word of its own, or a machine's path.
fn check(file: &File) -> Vec<String> {
    let mut complaints = Vec::new();
    for (line_idx, line) in file.text.lines().enumerate() {
        let line = line.to_lowercase();
        let found = UNFINISHED.iter().filter(|word| has_word(&line, word));
        for word in found.chain(MACHINE_PATHS.iter().filter(|path| line.contains(**path))) {
            complaints.push(format!("{}:{}: `{word}`", file.path, line_idx + 1));
        }
    }
    complaints
}

fn has_word(line: &str, word: &str) -> bool {
    line.match_indices(word).any(|(at, _)| {
        let before = line[..at].chars().next_back();
        let after = line[at + word.len()..].chars().next();
        ![before, after].into_iter().flatten().any(|c| c.is_alphanumeric() || c == '_')
    })
}

#[test]
fn nothing_in_the_repository_is_marked_unfinished() {
    let mut files = source::rust();
    files.extend(source::below("docs", &[".md", ".toml"]));
    files.extend(source::below("corpus", &[".md", ".toml", ".csv", ".txt"]));
    files.extend(source::below("tests", &[".py", "/run"]));
    for name in ["README.md", "DEVELOPERS.md", "Cargo.toml", ".ci/run"] {
        files.push(File { path: name.to_owned(), text: source::read(name) });
    }
    // This list itself, and lints that are named like a word of it.
    files.retain(|file| file.path != "tests/house/words.rs" && file.path != "Cargo.toml");
    expect_none(&files.iter().flat_map(check).collect::<Vec<_>>());
}

#[test]
fn unfinished_work_is_seen() {
    let found = |text: &str| check(&File { path: "a.rs".to_owned(), text: text.to_owned() }).len();
    assert_eq!(found("// TODO: later\nfn f() { todo!() }\n"), 2);
    assert_eq!(found("let path = \"/home/somebody/x.wav\";"), 1);
    assert_eq!(found("the hackberry tree and the shacks"), 0);
}
