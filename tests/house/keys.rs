//! Every number of the review names its unit in the key it stands under.

use serde_json::Value;

use super::expect_none;

/// Ends of keys that name a unit.
const UNIT_ENDS: [&str; 14] = [
    "_db",
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
];

/// Ends of keys whose number has no unit.
const PURE_ENDS: [&str; 5] = ["confidence", "correlation", "ratio", "share", "count"];

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
