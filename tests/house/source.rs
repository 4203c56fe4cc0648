//! The repository's text files, and Rust sources without comments and text.

use std::fs;
use std::path::Path;

/// A text file of the repository.
#[derive(Debug)]
pub(super) struct File {
    /// Path from the top of the repository, with `/` between the parts.
    pub(super) path: String,
    /// Content.
    pub(super) text: String,
}

/// The top of the repository.
pub(super) fn top() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The content of a file, by its path from the top.
pub(super) fn read(path: &str) -> String {
    fs::read_to_string(top().join(path)).unwrap_or_else(|error| panic!("`{path}`: {error}"))
}

/// All files below a folder whose name ends in one of the endings, sorted by path.
pub(super) fn below(folder: &str, endings: &[&str]) -> Vec<File> {
    let mut found = Vec::new();
    let mut folders = vec![top().join(folder)];
    while let Some(folder) = folders.pop() {
        let entries = fs::read_dir(&folder)
            .unwrap_or_else(|error| panic!("`{}`: {error}", folder.display()))
            .map(|entry| entry.unwrap().path());
        for path in entries {
            if path.is_dir() {
                folders.push(path);
            } else if endings.iter().any(|ending| path.to_string_lossy().ends_with(ending)) {
                found.push(path);
            }
        }
    }
    found.sort();
    found
        .iter()
        .map(|path| File { path: from_top(path), text: fs::read_to_string(path).unwrap() })
        .collect()
}

fn from_top(path: &Path) -> String {
    let parts = path.strip_prefix(top()).unwrap().iter();
    parts.map(|part| part.to_string_lossy()).collect::<Vec<_>>().join("/")
}

/// All Rust files of the program and its tests.
pub(super) fn rust() -> Vec<File> {
    let mut files = below("src", &[".rs"]);
    files.extend(below("tests", &[".rs"]));
    files
}

/// A Rust source with comments and the insides of string and character literals taken out; line breaks stay.
pub(super) fn code_only(source: &str) -> String {
    let mut code = String::with_capacity(source.len());
    let mut rest = source;
    while let Some(first) = rest.chars().next() {
        let skipped = comment(rest)
            .or_else(|| raw_string(rest))
            .or_else(|| string(rest))
            .or_else(|| character(rest));
        if let Some(length) = skipped {
            code.extend(rest[..length].chars().filter(|&c| c == '\n'));
            code.push(' ');
            rest = &rest[length..];
        } else {
            code.push(first);
            rest = &rest[first.len_utf8()..];
        }
    }
    code
}

fn comment(text: &str) -> Option<usize> {
    if text.starts_with("//") {
        return Some(text.find('\n').unwrap_or(text.len()));
    }
    text.starts_with("/*").then(|| text.find("*/").map_or(text.len(), |end| end + 2))
}

fn raw_string(text: &str) -> Option<usize> {
    let after = text.strip_prefix('r')?;
    let n_hashes = after.len() - after.trim_start_matches('#').len();
    let body = after[n_hashes..].strip_prefix('"')?;
    let close = format!("\"{}", "#".repeat(n_hashes));
    let end = body.find(&close).map_or(body.len(), |at| at + close.len());
    Some(1 + n_hashes + 1 + end)
}

fn string(text: &str) -> Option<usize> {
    let body = text.strip_prefix('"')?;
    let mut escaped = false;
    for (at, c) in body.char_indices() {
        match c {
            _ if escaped => escaped = false,
            '\\' => escaped = true,
            '"' => return Some(at + 2),
            _ => {}
        }
    }
    Some(text.len())
}

/// A character literal, told from a lifetime by its closing quote.
fn character(text: &str) -> Option<usize> {
    let body = text.strip_prefix('\'')?;
    if body.starts_with('\\') {
        return body[2..].find('\'').map(|at| at + 4);
    }
    let first = body.chars().next()?;
    body[first.len_utf8()..].starts_with('\'').then(|| first.len_utf8() + 2)
}

#[test]
fn code_only_drops_comments_and_literals() {
    let source = "let a = \"crate::x \\\" //\"; // crate::y\nlet b = r#\"crate::\"z\"#; let c = '\"'; let d: &'static str;";
    let code = code_only(source);
    assert!(!code.contains("crate::"), "{code}");
    assert!(code.contains("let b") && code.contains("let d: &'static str;"), "{code}");
    assert_eq!(code.matches('\n').count(), 1, "line breaks stay: {code}");
}
