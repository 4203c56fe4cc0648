//! What is kept of a review: what was judged, with names and numbers, and nothing else.

use deskside::coach::{self, Aims, Options};
use deskside::history::Record;
use deskside::report::json::{Review, SCHEMA};
use serde_json::Value;

use crate::support::evening;

fn review() -> String {
    let reading = evening::evening();
    let advice = coach::coach(&reading, &Aims::default(), &Options::default());
    Review::new(&reading, &advice).to_json()
}

#[test]
fn a_review_becomes_a_record() {
    let record = Record::read(&review(), SCHEMA).unwrap();
    let review: Value = serde_json::from_str(&review()).unwrap();
    assert_eq!(record.name, "Tallow Street Arts Hall");
    assert_eq!(record.date.as_deref(), Some("2026-03-14"));
    assert_eq!(record.operator.as_deref(), Some("wren"));
    assert_eq!(record.is_good, Some(true));
    let claimed = |one: &&Value| one["n_chances"].as_u64() > Some(0);
    let n_claimed = review["observations"].as_array().unwrap().iter().filter(claimed).count();
    assert!(n_claimed > 20, "the evening has something to count");
    assert_eq!(record.observations.len(), n_claimed, "what was claimed is kept");
    let pages = ["notes", "mentor", "lead"].map(|key| review[key].as_array().unwrap().len());
    assert_eq!(record.notes.len(), pages.iter().sum::<usize>(), "rules on pages");
    let mut n_off = 0;
    for one in &record.observations {
        assert!(one.n_hits <= one.n_chances && one.n_chances > 0, "{one:?}");
        assert_eq!(one.rule_version.len(), 8, "{one:?}");
        // These two count entries and minutes, the others once for each judgement.
        if !["cue-late", "pop-blasts"].contains(&one.rule.as_str()) {
            assert_eq!((one.severity.is_some(), one.n_chances), (one.n_hits == 1, 1), "{one:?}");
        }
        n_off += usize::from(one.n_hits > 0);
    }
    assert!(n_off > 0, "something was off target");
}

#[test]
fn channels_go_by_the_names_on_the_desk() {
    let record = Record::read(&review(), SCHEMA).unwrap();
    let names: Vec<String> =
        evening::evening().channels.iter().map(|one| one.name.clone()).collect();
    for one in &record.observations {
        let mut parts = one.channel.split(" + ").filter(|part| !part.is_empty());
        assert!(parts.all(|part| names.iter().any(|name| name == part)), "{one:?}");
        assert_eq!(one.channel.is_empty(), one.role.is_empty(), "{one:?}");
    }
    assert!(record.inputs.iter().all(|name| names.contains(name)), "{:?}", record.inputs);
}

#[test]
fn other_texts_are_refused() {
    let refused = |text: &str| Record::read(text, SCHEMA).expect_err("it is refused");
    assert!(refused("not json").contains("no review.json"));
    assert!(refused("{}").contains("no review.json"));
    let other = review().replace(SCHEMA, "deskside-review/9");
    assert!(refused(&other).contains("deskside-review/9"));
    let older = review().replace("\"rule_version\"", "\"rule_verse\"");
    assert!(refused(&older).contains("written by another version"));
}
