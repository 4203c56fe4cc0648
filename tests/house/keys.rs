//! Every number of the review names its unit in the key it stands under.

use deskside::coach::{self, Aims, Options};
use deskside::history::{Night, Selection, habits, recurring, weeks};
use deskside::report::habits::Page;
use deskside::report::json::Review;
use deskside::report::{habits as printed, rows, schema};
use serde_json::{Value, json};

use super::expect_none;
use crate::support::evening;

/// Ends of keys that name a unit.
const UNIT_ENDS: [&str; 19] = [
    "_m",
    "_min",
    "_deg",
    "_db",
    "_db_spl",
    "_dbfs",
    "_dbtp",
    "_lufs",
    "_lu",
    "_hz",
    "_s",
    "_ms",
    "_percent",
    "_db_per_octave",
    "_db_per_hour",
    "_per_minute",
    "_per_hour",
    "_bits",
    "_ppm",
];

/// Ends of keys whose number has no unit.
const PURE_ENDS: [&str; 7] =
    ["confidence", "correlation", "coherence", "ratio", "share", "count", "index"];

/// Keys whose number has no unit.
const PURE_KEYS: [&str; 4] = ["number", "bits", "polarity", "pan"];

/// Keys of a fact: the unit stands in the key that holds the fact, or in a sibling `unit`.
const FACT_KEYS: [&str; 5] = ["value", "at_most", "at_least", "low", "high"];

/// Whether a key names the unit of the number below it, or is known to need none.
fn names_a_unit(key: &str) -> bool {
    UNIT_ENDS.iter().any(|end| key.ends_with(end))
        || PURE_ENDS.iter().any(|end| key == *end || key.ends_with(&format!("_{end}")))
        || PURE_KEYS.contains(&key)
        || key.starts_with("n_")
}

/// Places of numbers whose key names no unit. `key` is the nearest key that is not a fact's own.
fn unnamed(value: &Value, key: &str, place: &str, beside_unit: bool) -> Vec<String> {
    match value {
        Value::Number(_) if beside_unit || names_a_unit(key) => Vec::new(),
        Value::Number(number) => vec![format!("{place}: {number} under `{key}` names no unit")],
        Value::Array(items) => items
            .iter()
            .enumerate()
            .flat_map(|(at, item)| unnamed(item, key, &format!("{place}[{at}]"), beside_unit))
            .collect(),
        Value::Object(fields) => fields
            .iter()
            .flat_map(|(name, field)| {
                let place = format!("{place}.{name}");
                if FACT_KEYS.contains(&name.as_str()) {
                    let beside_unit = beside_unit || fields.contains_key("unit");
                    unnamed(field, key, &place, beside_unit)
                } else {
                    unnamed(field, name, &place, false)
                }
            })
            .collect(),
        Value::Null | Value::Bool(_) | Value::String(_) => Vec::new(),
    }
}

/// The same for a schema: places that may hold a number whose key names no unit.
fn unnamed_in_schema(
    root: &Value,
    node: &Value,
    key: &str,
    place: &str,
    beside_unit: bool,
) -> Vec<String> {
    if let Some(target) = node["$ref"].as_str() {
        let name = target.rsplit('/').next().unwrap();
        return unnamed_in_schema(root, &root["$defs"][name], key, place, beside_unit);
    }
    let mut complaints = Vec::new();
    let kinds = match &node["type"] {
        Value::String(kind) => vec![kind.as_str()],
        Value::Array(kinds) => kinds.iter().filter_map(Value::as_str).collect(),
        _ => Vec::new(),
    };
    let is_number = kinds.iter().any(|kind| ["number", "integer"].contains(kind));
    if is_number && !beside_unit && !names_a_unit(key) {
        complaints.push(format!("{place}: a number under `{key}` names no unit"));
    }
    let has_unit = node["properties"]["unit"].is_object();
    for (name, field) in node["properties"].as_object().into_iter().flatten() {
        let (key, beside_unit) = if FACT_KEYS.contains(&name.as_str()) {
            (key, beside_unit || has_unit)
        } else {
            (name.as_str(), false)
        };
        complaints.extend(unnamed_in_schema(
            root,
            field,
            key,
            &format!("{place}.{name}"),
            beside_unit,
        ));
    }
    if node["items"].is_object() {
        complaints.extend(unnamed_in_schema(
            root,
            &node["items"],
            key,
            &format!("{place}[]"),
            beside_unit,
        ));
    }
    for choice in ["anyOf", "oneOf", "allOf"] {
        for part in node[choice].as_array().into_iter().flatten() {
            complaints.extend(unnamed_in_schema(root, part, key, place, beside_unit || has_unit));
        }
    }
    complaints
}

#[test]
fn every_number_of_the_review_names_its_unit() {
    let reading = evening::evening();
    let advice = coach::coach(&reading, &Aims::default(), &Options::default());
    let json = Review::new(&reading, &advice).to_json();
    let value: Value = serde_json::from_str(&json).unwrap();
    expect_none(&unnamed(&value, "review", "review", false));
}

#[test]
fn every_number_of_the_habits_and_of_what_is_exported_names_its_unit() {
    let nights: Vec<Night> = weeks()
        .into_iter()
        .map(|record| Night { day: record.date.clone().unwrap(), week: 0, record })
        .collect();
    let recurring = recurring(&nights);
    let habits = habits(&nights, &Selection::default(), &recurring);
    let page = Page {
        operator: None,
        role: None,
        channel: None,
        n_sessions: nights.len(),
        dates: None,
        habits: &habits,
        recurring: &recurring,
        topic: None,
    };
    let mut texts = vec![printed::json(&page), rows::session_line(&nights[0])];
    texts.extend(rows::json_lines(&nights[0]).lines().map(str::to_owned));
    for text in texts {
        let value: Value = serde_json::from_str(&text).unwrap();
        expect_none(&unnamed(&value, "habits", "habits", false));
    }
}

#[test]
fn every_number_that_the_schema_allows_names_its_unit() {
    let root: Value = serde_json::from_str(&schema::schema()).unwrap();
    expect_none(&unnamed_in_schema(&root, &root, "review", "review", false));
}

#[test]
fn a_key_without_a_unit_is_seen() {
    let complain = |json: Value| unnamed(&json, "review", "review", false).len();
    assert_eq!(complain(json!({ "loud_level_dbfs": { "value": -20.0, "confidence": 0.9 } })), 0);
    assert_eq!(complain(json!({ "loud_level": { "value": -20.0, "confidence": 0.9 } })), 1);
    assert_eq!(
        complain(json!({ "measured": [{ "value": -20.0, "unit": "dBFS", "confidence": 0.9 }] })),
        0
    );
    assert_eq!(complain(json!({ "target": { "low": -24.0, "high": null, "unit": "dBFS" } })), 0);
    assert_eq!(complain(json!({ "target": { "low": -24.0, "high": null } })), 1);
    assert_eq!(complain(json!({ "rates": [48_000] })), 1);
    assert_eq!(complain(json!({ "n_events": 3, "name": "LV", "is_raw": true })), 0);
}

#[test]
fn a_schema_key_without_a_unit_is_seen() {
    let fact =
        json!({ "anyOf": [{ "type": "object", "properties": { "value": { "type": "number" } } }] });
    let schema = |key: &str| json!({ "properties": { key: { "$ref": "#/$defs/Fact" } }, "$defs": { "Fact": fact.clone() } });
    let complain = |root: &Value| unnamed_in_schema(root, root, "review", "review", false).len();
    assert_eq!(complain(&schema("delay_s")), 0);
    assert_eq!(complain(&schema("delay")), 1);
    assert_eq!(complain(&json!({ "properties": { "rate": { "type": ["integer", "null"] } } })), 1);
    assert_eq!(complain(&json!({ "properties": { "at": { "items": { "type": "number" } } } })), 1);
}
