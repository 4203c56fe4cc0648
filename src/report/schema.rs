//! The form of `review.json` as a JSON Schema (draft 2020-12), and its keys as a table.
//!
//! Takes nothing but the types of the review, gives text for `docs/`. Never describes a key that the types don't have.

use std::fmt::Write as _;

use serde_json::Value;

use super::json::Review;

/// The schema, indented, with a line break at its end.
///
/// # Panics
///
/// Never: a schema is plain data.
pub fn schema() -> String {
    let schema = schemars::schema_for!(Review<'static>);
    let mut json = serde_json::to_string_pretty(&schema).expect("a schema is plain data");
    json.push('\n');
    json
}

/// The keys of every object in the schema, as Markdown tables.
///
/// # Panics
///
/// Never: the schema is read back as it was written.
pub fn field_tables() -> String {
    let root: Value = serde_json::from_str(&schema()).expect("the schema was just written");
    let mut out = String::new();
    object(&mut out, "review", &root);
    if let Some(definitions) = root["$defs"].as_object() {
        for (name, definition) in definitions {
            if definition["properties"].is_object() {
                object(&mut out, name, definition);
            }
        }
    }
    out
}

/// One object: its description and a row for each key.
fn object(out: &mut String, name: &str, definition: &Value) {
    let description = definition["description"].as_str().unwrap_or_default();
    let first = description.split("\n\n").next().unwrap_or_default().replace('\n', " ");
    let _ = writeln!(out, "### {name}\n\n{first}\n\n| key | type | what |\n| --- | --- | --- |");
    for (key, field) in definition["properties"].as_object().into_iter().flatten() {
        let what = field["description"].as_str().unwrap_or_default().replace('\n', " ");
        let _ = writeln!(out, "| `{key}` | {} | {what} |", kind(field));
    }
    out.push('\n');
}

/// The type of a key in words.
fn kind(field: &Value) -> String {
    if let Some(target) = field["$ref"].as_str() {
        return target.rsplit('/').next().unwrap_or_default().to_owned();
    }
    if let Some(choices) = field["anyOf"].as_array() {
        return choices.iter().map(kind).collect::<Vec<_>>().join(" or ");
    }
    match &field["type"] {
        Value::String(name) if name == "array" => format!("list of {}", kind(&field["items"])),
        Value::String(name) => name.clone(),
        Value::Array(names) => {
            names.iter().filter_map(Value::as_str).collect::<Vec<_>>().join(" or ")
        }
        _ => "one of a list".to_owned(),
    }
}
