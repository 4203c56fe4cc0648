//! Tests of what a review holds as JSON.

use deskside::coach::Advice;
use deskside::reading::Events;
use deskside::session::Role;
use deskside::unit::Fact;
use serde_json::{Value, json};

use super::advise;
use crate::support::readings::{channel, session};

fn review() -> Value {
    let mut voice = channel(17, Role::LeadVocal);
    voice.loud_level_dbfs = Fact::AtMost { at_most: -35.0, confidence: 0.9 };
    voice.top_peak_dbfs = Fact::exact(-20.0);
    voice.flat_tops = Events { count: 1, at_s: vec![130.0] };
    serde_json::to_value(advise(&session(vec![voice]))).expect("advice is plain data")
}

#[test]
fn a_note_holds_the_stable_keys() {
    let review = review();
    let note = review["notes"]
        .as_array()
        .and_then(|notes| notes.iter().find(|note| note["rule"] == "gain-too-low"))
        .expect("the low voice is a note");
    assert_eq!(note["severity"], "red");
    assert_eq!(note["channels"], json!(["ch17"]));
    assert_eq!(
        note["measured"],
        json!([{"name": "loud level", "channels": ["ch17"], "at_most": -35.0, "confidence": 0.9, "unit": "dBFS", "change_db": 8.0}])
    );
    assert_eq!(note["target"]["low"], -24.0);
    assert_eq!(note["target"]["high"], Value::Null);
    assert_eq!(note["target"]["unit"], "dBFS");
    assert_eq!(note["evidence"], json!([{"start_s": 20.0, "end_s": 40.0}]));
    assert_eq!(note["sure"], "high");
    for key in ["confidence", "target", "why", "try", "sentence", "folds", "title", "page"] {
        assert!(!note[key].is_null(), "`{key}` is there");
    }
    assert!(
        note["target"]["source"].as_str().is_some_and(|source| source.contains("EBU R 68")),
        "with a source"
    );
}

#[test]
fn nothing_in_it_is_a_score() {
    let text = review().to_string();
    for word in ["score", "weight", "rank", "margin"] {
        assert!(!text.contains(&format!("\"{word}")), "`{word}` is no key");
    }
}

#[test]
fn the_same_reading_gives_the_same_bytes() {
    assert_eq!(review().to_string(), review().to_string());
}

#[test]
fn it_has_a_schema() {
    let schema = schemars::schema_for!(Advice).to_value();
    assert!(schema["properties"]["notes"].is_object(), "notes are described");
    assert!(schema["properties"]["observations"].is_object(), "judgements are the observations");
}
