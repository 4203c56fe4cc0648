//! The printed documents: each is made from the sources and compared with the file in the repository.
//!
//! `UPDATE=1 cargo test docs` writes them.

use std::fmt::Write as _;
use std::fs;
use std::path::Path;

use deskside::coach::{RESERVED, RULES};
use deskside::report::handbook::Handbook;
use deskside::report::schema;

use crate::support::golden;

/// What a document says about itself.
const PRINTED: &str =
    "<!-- Printed by `UPDATE=1 cargo test docs`; edit the sources, not this file. -->";

fn read(path: &str) -> Option<String> {
    fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(path)).ok()
}

/// A document with the part between `<!-- name -->` and `<!-- /name -->` replaced.
fn filled(document: &str, name: &str, content: &str) -> String {
    let (open, close) = (format!("<!-- {name} -->\n"), format!("<!-- /{name} -->"));
    let (before, rest) = document.split_once(&open).unwrap_or_else(|| panic!("no `{open}`"));
    let (_, after) = rest.split_once(&close).unwrap_or_else(|| panic!("no `{close}`"));
    format!("{before}{open}{content}{close}{after}")
}

/// The headers of the files of a module, as sections.
fn headers(folder: &str) -> String {
    let mut paths: Vec<_> = fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join(folder))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| {
            path.extension().is_some_and(|ending| ending == "rs") && !path.ends_with("mod.rs")
        })
        .collect();
    paths.sort();
    let mut out = String::new();
    for path in paths {
        let name = path.file_stem().unwrap().to_string_lossy().into_owned();
        let text = fs::read_to_string(&path).unwrap();
        let _ = writeln!(out, "{}", section(&name, &header(&text)));
    }
    out
}

/// The lines of the `//!` header of a source.
fn header(source: &str) -> Vec<&str> {
    let lines = source.lines().map_while(|line| line.strip_prefix("//!"));
    lines.map(|line| line.strip_prefix(' ').unwrap_or(line)).collect()
}

/// A header as a section: its own title, or the name of the file.
fn section(name: &str, header: &[&str]) -> String {
    let title = header.first().and_then(|line| line.strip_prefix("# "));
    let body = if title.is_some() { &header[1..] } else { header };
    let body = body
        .iter()
        .map(|line| if line.starts_with('#') { format!("##{line}") } else { (*line).to_owned() });
    let body = body.collect::<Vec<_>>().join("\n");
    format!("### {} (`{name}`)\n\n{}\n", title.unwrap_or(name), body.trim())
}

fn rules() -> String {
    let mut out = format!("# Rules\n\n{PRINTED}\n\n");
    out.push_str(
        "What the program judges, in the order in which problems are fixed. `deskside explain RULE` prints one of them.\n\
         Targets are starting values; a team can set its own. A number is on target within the first range, near within the\n\
         second, and outside beyond it.\n",
    );
    let _ = write!(out, "{}", Handbook(RULES));
    out.push_str("\n## Not judged in this version\n\nThese names are kept. A review lists them under what was not judged.\n\n");
    out.push_str(
        "| rule | what it will find | what has to be there first |\n| --- | --- | --- |\n",
    );
    for reserved in RESERVED {
        let _ = writeln!(out, "| {} | {} | {} |", reserved.id, reserved.title, reserved.needs);
    }
    out
}

fn measurements() -> String {
    format!(
        "# Measurements\n\n{PRINTED}\n\nWhat each number is, where its definition comes from, and when it misleads.\n\n\
         ## What one channel says about itself\n\n{}\n## What channels say about each other\n\n{}",
        headers("src/measure"),
        headers("src/relate")
    )
}

#[test]
fn printed_documents_are_current() {
    golden::compare("docs/rules.md", &rules());
    golden::compare("docs/measurements.md", &measurements());
    golden::compare("docs/review.schema.json", &schema::schema());
}

#[test]
fn the_table_of_keys_is_current() {
    let document = read("docs/format.md").unwrap();
    golden::compare(
        "docs/format.md",
        &filled(&document, "keys", &format!("\n{}", schema::field_tables())),
    );
}

#[test]
fn the_output_in_the_readme_is_the_output_of_the_demo() {
    let output = read("corpus/demo/expected-cut.txt")
        .map_or_else(String::new, |text| format!("\n```text\n{}\n```\n\n", text.trim_end()));
    golden::compare("README.md", &filled(&read("README.md").unwrap(), "output", &output));
}

#[test]
fn a_part_of_a_document_is_replaced_and_the_rest_stays() {
    let document = "a\n<!-- keys -->\nold\n<!-- /keys -->\nb\n";
    assert_eq!(filled(document, "keys", "new\n"), "a\n<!-- keys -->\nnew\n<!-- /keys -->\nb\n");
}

#[test]
fn a_header_becomes_a_section() {
    let source = "//! # Crest factor\n//!\n//! How far.\n//!\n//! ## Limits\n\nuse std::fmt;\n//! not this\n";
    assert_eq!(
        section("crest", &header(source)),
        "### Crest factor (`crest`)\n\nHow far.\n\n#### Limits\n"
    );
    assert_eq!(section("trace", &header("//! A level.\n")), "### trace (`trace`)\n\nA level.\n");
}
