//! The schema as the tests read it: every number of a manifest with its range, every node.

use std::sync::LazyLock;

use serde_json::{Map, Value};
use strikeoff_files::job::job_schema;

pub(super) static SCHEMA: LazyLock<Value> = LazyLock::new(job_schema);

/// A number in a manifest: where it stands, and what the schema says of it.
#[derive(Debug, Clone)]
pub(super) struct Field {
    pub(super) pointer: String,
    /// Where its schema stands.
    pub(super) schema: String,
    pub(super) min: f64,
    pub(super) max: f64,
    pub(super) title: String,
    pub(super) unit: String,
}

/// Every number of a manifest, by the test's own walk over the schema. `found` has the pointers of the schema
/// nodes that were met.
pub(super) fn numbers(manifest: &Value) -> Vec<Field> {
    fn resolve<'a>(schema: &'a Value, at: &str) -> (&'a Value, String) {
        match schema.get("$ref").and_then(Value::as_str) {
            Some(to) => (SCHEMA.pointer(&to[1..]).unwrap(), to[1..].to_owned()),
            None => (schema, at.to_owned()),
        }
    }
    /// The branch of a choice that `jsonschema` takes.
    fn branch<'a>(value: &Value, schema: &'a Value, at: &str) -> (&'a Value, String) {
        let (schema, at) = resolve(schema, at);
        for key in ["oneOf", "anyOf"] {
            for (i, option) in schema.get(key).and_then(Value::as_array).into_iter().flatten().enumerate() {
                let mut alone = option.clone();
                alone["$defs"] = SCHEMA["$defs"].clone();
                if jsonschema::is_valid(&alone, value) {
                    return branch(value, option, &format!("{at}/{key}/{i}"));
                }
            }
        }
        (schema, at)
    }
    fn walk(value: &Value, schema: &Value, at: &str, pointer: &str, found: &mut Vec<Field>) {
        if value.is_number() {
            // A field's own range counts before that of its type.
            let (typed, _) = branch(value, schema, at);
            let own = |key: &str| schema.get(key).or_else(|| typed.get(key));
            let number = |key: &str| own(key).and_then(Value::as_f64).unwrap_or(f64::NAN);
            let text = |key: &str| own(key).and_then(Value::as_str).unwrap_or("").to_owned();
            let unit =
                if schema.get("title").is_some() { schema["unit"].as_str().unwrap_or("").into() } else { text("unit") };
            found.push(Field {
                pointer: pointer.to_owned(),
                schema: at.to_owned(),
                min: number("minimum"),
                max: number("maximum"),
                title: text("title"),
                unit,
            });
            return;
        }
        let (schema, at) = branch(value, schema, at);
        match value {
            Value::Array(list) => list.iter().enumerate().for_each(|(i, value)| {
                let (item, place) = match schema.get("prefixItems") {
                    Some(tuple) => (&tuple[i], format!("{at}/prefixItems/{i}")),
                    None => (&schema["items"], format!("{at}/items")),
                };
                walk(value, item, &place, &format!("{pointer}/{i}"), found);
            }),
            Value::Object(map) => map.iter().for_each(|(key, value)| {
                let own = schema["properties"].get(key);
                let (field, place) = match own {
                    Some(field) => (field, format!("{at}/properties/{key}")),
                    None => (&schema["additionalProperties"], format!("{at}/additionalProperties")),
                };
                walk(value, field, &place, &format!("{pointer}/{key}"), found);
            }),
            _ => {}
        }
    }
    let mut found = Vec::new();
    walk(manifest, &SCHEMA, "", "", &mut found);
    found
}

/// Every node of the schema, with its pointer.
pub(super) fn nodes(value: &Value, at: String, found: &mut Vec<(String, Map<String, Value>)>) {
    match value {
        Value::Object(map) => {
            found.push((at.clone(), map.clone()));
            for (key, value) in map.iter().filter(|(key, _)| *key != "default") {
                nodes(value, format!("{at}/{key}"), found);
            }
        }
        Value::Array(list) => list.iter().enumerate().for_each(|(i, value)| nodes(value, format!("{at}/{i}"), found)),
        _ => {}
    }
}
