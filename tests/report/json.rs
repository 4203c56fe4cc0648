//! The review for other programs: what its readers rely on.

use deskside::coach::{self, Aims, Options};
use deskside::report::json::Review;
use serde_json::Value;

use crate::support::evening;

fn json() -> String {
    let reading = evening::evening();
    let advice = coach::coach(&reading, &Aims::default(), &Options::default());
    Review::new(&reading, &advice).to_json()
}

fn value() -> Value {
    serde_json::from_str(&json()).unwrap()
}

#[test]
fn the_keys_that_programs_rely_on_are_there() {
    let review = value();
    let places = [
        "/schema",
        "/session/name",
        "/session/duration_s",
        "/channels/0/id",
        "/channels/0/name",
        "/channels/0/role",
        "/channels/0/role_confidence",
        "/channels/0/tap",
        "/pairs/0/source",
        "/pairs/0/mic",
        "/pairs/0/delay_s/value",
        "/pairs/0/polarity/value",
        "/main/integrated_lufs/value",
        "/mix",
        "/room",
        "/segments/0/kind",
        "/segments/0/start_s",
        "/observations",
        "/strengths",
        "/not_measurable/0/reason",
        "/warnings/0",
        "/notes/0/rule",
        "/notes/0/severity",
        "/notes/0/confidence",
        "/notes/0/channels/0",
        "/notes/0/measured/0/value",
        "/notes/0/measured/0/unit",
        "/notes/0/target/source",
        "/notes/0/evidence/0/start_s",
        "/notes/0/why",
        "/notes/0/try/0",
    ];
    for place in places {
        assert!(review.pointer(place).is_some(), "`{place}` is missing");
    }
    assert_eq!(review["schema"], "deskside-review/1");
    assert_eq!(review["channels"][4]["role"], "lead-vocal");
    assert_eq!(review["channels"][0]["tap"], "raw");
}

#[test]
fn a_missing_value_is_a_reason_and_never_a_number_or_null() {
    let review = value();
    assert_eq!(
        review["main"]["creep_db_per_hour"]["not_measurable"],
        "the recording lasts 500.0 s, 1800.0 s are needed"
    );
    // serde_json writes NaN and infinities as null: no key of a fact may hold it.
    let text = json();
    for key in ["value", "at_most", "at_least", "confidence"] {
        assert!(!text.contains(&format!("\"{key}\": null")), "`{key}` is null");
    }
}

#[test]
fn the_same_review_gives_the_same_bytes() {
    let text = json();
    assert_eq!(text, json());
    assert!(text.ends_with("}\n"), "a text file ends with a line break");
}

#[test]
fn nothing_of_the_run_or_the_machine_is_in_it() {
    let text = json();
    for word in ["elapsed", "timing", "/tmp/", env!("CARGO_MANIFEST_DIR")] {
        assert!(!text.contains(word), "`{word}`");
    }
}
