//! What the program is built from: licences, where crates come from, and what of them is switched on.
//!
//! Reads `cargo metadata` without a network, for the platform at hand. Known flaws of crates can't be looked up without one; that check
//! is run by hand (DEVELOPERS.md).

use std::collections::BTreeMap;
use std::process::Command;

use serde_json::Value;

use super::expect_none;
use super::source;

/// Licences that go with MIT and Apache-2.0 in a program that is handed on as a whole, by their SPDX names. MPL-2.0 asks that changes to its
/// own files are shown; none is changed.
const ALLOWED: [&str; 10] = [
    "0BSD",
    "Apache-2.0",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "CC0-1.0",
    "ISC",
    "MIT",
    "MPL-2.0",
    "Unicode-3.0",
    "Zlib",
];

/// Where crates come from.
const REGISTRY: &str = "registry+https://github.com/rust-lang/crates.io-index";

/// Crates that are there in two versions, because crates that others build on have not met yet.
const DOUBLE: [&str; 3] = ["bitflags", "getrandom", "syn"];

/// An SPDX expression, read from the left; older crates write `/` for `OR`.
struct Expression<'a> {
    words: Vec<&'a str>,
    at: usize,
}

impl<'a> Expression<'a> {
    fn is_allowed(text: &str) -> bool {
        let spaced = text.replace('/', " OR ").replace('(', " ( ").replace(')', " ) ");
        let mut expression = Expression { words: spaced.split_whitespace().collect(), at: 0 };
        expression.either() && expression.at == expression.words.len()
    }

    fn next(&mut self, word: &str) -> bool {
        let is_next = self.words.get(self.at) == Some(&word);
        self.at += usize::from(is_next);
        is_next
    }

    fn either(&mut self) -> bool {
        let mut is_allowed = self.both();
        while self.next("OR") {
            is_allowed |= self.both();
        }
        is_allowed
    }

    fn both(&mut self) -> bool {
        let mut is_allowed = self.one();
        while self.next("AND") {
            is_allowed &= self.one();
        }
        is_allowed
    }

    fn one(&mut self) -> bool {
        if self.next("(") {
            let is_allowed = self.either();
            return self.next(")") && is_allowed;
        }
        let word: &'a str = self.words.get(self.at).copied().unwrap_or_default();
        self.at += 1;
        if self.next("WITH") {
            // An exception adds rights.
            self.at += 1;
        }
        ALLOWED.contains(&word)
    }
}

fn packages(metadata: &Value) -> &Vec<Value> {
    metadata["packages"].as_array().expect("a list of packages")
}

fn name(package: &Value) -> &str {
    package["name"].as_str().unwrap_or_default()
}

/// Crates without a licence that is allowed, or from elsewhere.
fn strangers(metadata: &Value) -> Vec<String> {
    let mut complaints = Vec::new();
    for package in packages(metadata) {
        let name = name(package);
        match package["license"].as_str() {
            Some(licence) if Expression::is_allowed(licence) => {}
            licence => complaints.push(format!("{name}: licence {licence:?} is not on the list")),
        }
        // The program itself has no source.
        if package["source"].as_str().is_some_and(|source| source != REGISTRY) {
            complaints.push(format!("{name}: comes from {}", package["source"]));
        }
    }
    complaints
}

/// Crates in more than one version.
fn doubles(metadata: &Value) -> Vec<String> {
    let mut n_versions: BTreeMap<&str, usize> = BTreeMap::new();
    for package in packages(metadata) {
        *n_versions.entry(name(package)).or_default() += 1;
    }
    let double = n_versions.iter().filter(|(name, n)| **n > 1 && !DOUBLE.contains(name));
    double.map(|(name, n)| format!("{name}: {n} versions")).collect()
}

/// Crates whose usual features are left out in `Cargo.toml` and come in again through another crate.
fn swollen(metadata: &Value) -> Vec<String> {
    let own = packages(metadata).iter().find(|package| package["source"].is_null());
    let dependencies = own.expect("the program itself")["dependencies"].as_array();
    let lean = dependencies
        .expect("a list of dependencies")
        .iter()
        .filter(|dependency| dependency["uses_default_features"] == false);
    let mut complaints = Vec::new();
    for dependency in lean {
        let found = packages(metadata).iter().find(|package| name(package) == name(dependency));
        let id = found.map_or(&Value::Null, |package| &package["id"]);
        let nodes = metadata["resolve"]["nodes"].as_array().expect("what is switched on");
        let node = nodes.iter().find(|node| node["id"] == *id).expect("the crate is built");
        if node["features"].as_array().is_some_and(|all| all.iter().any(|one| one == "default")) {
            complaints.push(format!("{}: its default features are on", name(dependency)));
        }
    }
    complaints
}

/// Dependencies in a manifest without a comment that says what for.
fn unexplained(manifest: &str) -> Vec<String> {
    let mut is_list = false;
    let mut complaints = Vec::new();
    for line in manifest.lines() {
        if line.starts_with('[') {
            is_list = line.ends_with("dependencies]");
        } else if is_list && line.contains('=') && !line.contains(" # ") {
            complaints.push(format!("`{line}` does not say what for"));
        }
    }
    complaints
}

fn metadata() -> Value {
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let version = Command::new("rustc").arg("-vV").output().expect("the compiler runs");
    let version = String::from_utf8(version.stdout).expect("plain text");
    let host = version.lines().find_map(|line| line.strip_prefix("host: ")).expect("a platform");
    let output = Command::new(cargo)
        .args([
            "metadata",
            "--offline",
            "--locked",
            "--format-version",
            "1",
            "--filter-platform",
            host,
        ])
        .current_dir(source::top())
        .output()
        .expect("cargo runs");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).expect("cargo writes JSON")
}

#[test]
fn every_crate_is_allowed_known_and_lean() {
    let metadata = metadata();
    assert!(packages(&metadata).len() > 50, "the whole tree is looked at");
    let mut complaints = strangers(&metadata);
    complaints.extend(doubles(&metadata));
    complaints.extend(swollen(&metadata));
    for manifest in ["Cargo.toml", "tests/fuzz/Cargo.toml"] {
        complaints.extend(unexplained(&source::read(manifest)));
    }
    expect_none(&complaints);
}

#[test]
fn strange_crates_are_seen() {
    let crate_of = |licence: Value, source: &str| serde_json::json!({"packages": [{"name": "x", "license": licence, "source": source}]});
    assert_eq!(strangers(&crate_of("MIT".into(), REGISTRY)).len(), 0);
    assert_eq!(strangers(&crate_of(Value::Null, REGISTRY)).len(), 1, "no licence");
    assert_eq!(strangers(&crate_of("MIT".into(), "git+https://example.org")).len(), 1);
    for right in ["MIT/Apache-2.0", "GPL-3.0-only OR MIT", "(MIT OR GPL-2.0-only) AND Unicode-3.0"]
    {
        assert!(Expression::is_allowed(right), "{right}");
    }
    assert!(Expression::is_allowed("Apache-2.0 WITH LLVM-exception"));
    for wrong in ["GPL-3.0-only", "MIT AND GPL-3.0-only", "", "(MIT", "MIT OR", "MIT MIT"] {
        assert!(!Expression::is_allowed(wrong), "{wrong}");
    }
    let twice = serde_json::json!({"packages": [{"name": "x"}, {"name": "x"}, {"name": "syn"}]});
    assert_eq!(doubles(&twice), ["x: 2 versions"]);
    let fat = serde_json::json!({
        "packages": [
            {"name": "own", "source": null, "dependencies": [{"name": "x", "uses_default_features": false}]},
            {"name": "x", "id": "x 1", "source": REGISTRY},
        ],
        "resolve": {"nodes": [{"id": "x 1", "features": ["default", "std"]}]},
    });
    assert_eq!(swollen(&fat).len(), 1);
    assert_eq!(
        unexplained("[dependencies]\na = \"1\"\nb = \"1\" # what for\n[lib]\nc = 1\n").len(),
        1
    );
}
