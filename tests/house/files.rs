//! Form of the files: headers, lengths, where things lie, links that lead somewhere.

use std::fs;

use super::expect_none;
use super::source::{self, File};

/// The most lines of a Rust file: what a reader takes in at one sitting.
const MAX_LINES: usize = 500;

/// What lies at the top, beside dotfiles: a newcomer sees at a glance where to look.
const TOP: [&str; 10] = [
    "Cargo.lock",
    "Cargo.toml",
    "DEVELOPERS.md",
    "LICENSE-APACHE",
    "LICENSE-MIT",
    "README.md",
    "corpus",
    "docs",
    "src",
    "tests",
];

/// Names that say nothing about what a module holds.
const EMPTY_NAMES: [&str; 6] = ["util", "utils", "common", "helper", "helpers", "misc"];

fn without_header(files: &[File]) -> Vec<String> {
    let headless = files.iter().filter(|file| {
        let first = file.text.lines().next().unwrap_or_default();
        first.strip_prefix("//! ").is_none_or(|words| words.trim().len() <= 5)
    });
    headless.map(|file| format!("{}: starts without a `//!` header", file.path)).collect()
}

fn too_long(files: &[File]) -> Vec<String> {
    let long = files.iter().filter(|file| file.text.lines().count() > MAX_LINES);
    long.map(|file| {
        format!("{}: {} lines, {MAX_LINES} at most", file.path, file.text.lines().count())
    })
    .collect()
}

fn emptily_named(files: &[File]) -> Vec<String> {
    let named = files.iter().filter(|file| {
        file.path.split('/').any(|part| EMPTY_NAMES.contains(&part.trim_end_matches(".rs")))
    });
    named.map(|file| format!("{}: the name says nothing", file.path)).collect()
}

/// Links to files of the repository that aren't there.
fn dead_links(file: &File) -> Vec<String> {
    let folder = file.path.rsplit_once('/').map_or("", |(folder, _)| folder);
    let targets = file.text.split("](").skip(1).filter_map(|rest| rest.split(')').next());
    targets
        .filter(|target| !target.starts_with("http") && !target.starts_with('#'))
        .map(|target| target.split('#').next().unwrap_or_default())
        .filter(|target| !source::top().join(folder).join(target).exists())
        .map(|target| format!("{}: links to `{target}`, which is not there", file.path))
        .collect()
}

#[test]
fn every_source_starts_with_a_header() {
    expect_none(&without_header(&source::rust()));
}

#[test]
fn no_source_is_longer_than_500_lines() {
    expect_none(&too_long(&source::rust()));
}

#[test]
fn no_source_has_an_empty_name() {
    expect_none(&emptily_named(&source::rust()));
}

#[test]
fn links_in_the_documents_lead_somewhere() {
    let mut documents = source::below("docs", &[".md"]);
    documents.extend(source::below("corpus", &[".md"]));
    for name in ["README.md", "DEVELOPERS.md"] {
        documents.push(File { path: name.to_owned(), text: source::read(name) });
    }
    expect_none(&documents.iter().flat_map(dead_links).collect::<Vec<_>>());
}

/// What the two commands of the README make at the top; git doesn't keep it.
const MADE: [&str; 3] = ["target", "deskside-demo", "deskside-demo-review"];

#[test]
fn the_top_of_the_repository_holds_what_belongs_there() {
    let entries = fs::read_dir(source::top()).unwrap();
    let mut names: Vec<String> =
        entries.map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned()).collect();
    names.retain(|name| !name.starts_with('.') && !MADE.contains(&name.as_str()));
    names.sort();
    assert_eq!(names, TOP);
    let ignored = source::read(".gitignore");
    for made in MADE {
        let line = format!("{made}/");
        assert!(ignored.lines().any(|other| other == line), "`{line}` is ignored by git");
    }
}

#[test]
fn faults_of_form_are_seen() {
    let file = |path: &str, text: &str| File { path: path.to_owned(), text: text.to_owned() };
    assert_eq!(without_header(&[file("src/a.rs", "use std::fmt;\n")]).len(), 1);
    assert_eq!(without_header(&[file("src/a.rs", "//! A kernel that sums.\n")]).len(), 0);
    assert_eq!(too_long(&[file("src/a.rs", &"x\n".repeat(MAX_LINES + 1))]).len(), 1);
    assert_eq!(too_long(&[file("src/a.rs", &"x\n".repeat(MAX_LINES))]).len(), 0);
    assert_eq!(
        emptily_named(&[file("src/util/mod.rs", ""), file("src/dsp/utils.rs", "")]).len(),
        2
    );
    assert_eq!(emptily_named(&[file("src/utility.rs", "")]).len(), 0);
    assert_eq!(dead_links(&file("docs/a.md", "[x](b-that-is-not-there.md#y)")).len(), 1);
    assert_eq!(
        dead_links(&file("docs/a.md", "[x](../README.md) [y](https://example.org)")).len(),
        0
    );
}
