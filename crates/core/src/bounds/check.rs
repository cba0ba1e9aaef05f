//! Holds a value to the ranges in its schema. Only ranges and lengths are looked at: what type a
//! value has, and which keys are known, is left to reading it.

use std::any::TypeId;
use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};

use schemars::JsonSchema;
use serde::Serialize;
use serde_json::{Map, Value};

use super::number::plain_number;
use super::text::{CLEAN, fault};
use crate::names::short;

/// A number, text or list beyond its range.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OutOfBounds {
    what: String,
    place: String,
}

impl std::error::Error for OutOfBounds {}

impl std::fmt::Display for OutOfBounds {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.place.as_str() {
            "" => f.write_str(&self.what),
            place => write!(f, "{} ({place})", self.what),
        }
    }
}

impl OutOfBounds {
    pub(super) fn number(title: &str, unit: &str, min: f64, max: f64, value: &str) -> Self {
        let blank = if unit.is_empty() { "" } else { " " };
        let (min, max) = (plain_number(min), plain_number(max));
        Self { what: format!("{title} must be {min} to {max}{blank}{unit}, not {value}"), place: String::new() }
    }

    /// Two things in a job that do not go together, in one sentence.
    pub(crate) fn said(what: String) -> Self {
        Self { what, place: String::new() }
    }

    /// The sentence without the field's place in the value that was checked.
    pub fn what(&self) -> &str {
        &self.what
    }
}

/// Holds a value of a type with a schema to it. A number that is no number counts as beyond.
pub fn check<T: Serialize + JsonSchema + 'static>(value: &T) -> Result<(), OutOfBounds> {
    match serde_json::to_value(value) {
        Ok(value) => check_against(&value, schema_of::<T>()),
        Err(error) => {
            Err(OutOfBounds { what: format!("the settings cannot be written down: {error}"), place: String::new() })
        }
    }
}

/// Holds a value to a schema (with its own `$defs`), as read from a file and before anything is made of it.
pub fn check_against(value: &Value, schema: &Value) -> Result<(), OutOfBounds> {
    Walk { root: schema, place: Vec::new() }.visit(value, schema, None)
}

/// The schema of a type, made once.
pub(crate) fn schema_of<T: JsonSchema + 'static>() -> &'static Value {
    static MADE: Mutex<Option<HashMap<TypeId, &'static Value>>> = Mutex::new(None);
    let mut made = MADE.lock().unwrap_or_else(PoisonError::into_inner);
    made.get_or_insert_default().entry(TypeId::of::<T>()).or_insert_with(|| {
        let settings = schemars::generate::SchemaSettings::draft2020_12();
        Box::leak(Box::new(settings.into_generator().into_root_schema_for::<T>().to_value()))
    })
}

/// What a schema calls a value, and its unit.
#[derive(Clone, Copy)]
struct Named<'a> {
    title: &'a str,
    unit: &'a str,
}

struct Walk<'a> {
    root: &'a Value,
    place: Vec<String>,
}

impl<'a> Walk<'a> {
    /// `named`: what the field that refers to this schema is called, which counts more than the
    /// name of its type.
    fn visit(&mut self, value: &Value, schema: &'a Value, named: Option<Named<'a>>) -> Result<(), OutOfBounds> {
        let Some(schema) = schema.as_object() else { return Ok(()) };
        let own = |key: &str| schema.get(key).and_then(Value::as_str);
        let named = named.or_else(|| own("title").map(|title| Named { title, unit: own("unit").unwrap_or("") }));
        self.number(value, schema, named)?;
        match value {
            Value::String(text) => self.text(text, schema, named)?,
            Value::Array(list) => self.list(list, schema, named)?,
            Value::Object(map) => self.map(map, schema, named)?,
            _ => {}
        }
        if let Some(target) = own("$ref") {
            self.visit(value, self.defined(target), named)?;
        }
        for key in ["oneOf", "anyOf"] {
            let branches = schema.get(key).and_then(Value::as_array).into_iter().flatten();
            if let Some(branch) = branches.into_iter().find(|branch| self.fits(value, branch)) {
                self.visit(value, branch, named)?;
            }
        }
        schema
            .get("allOf")
            .and_then(Value::as_array)
            .into_iter()
            .flatten()
            .try_for_each(|s| self.visit(value, s, named))
    }

    fn number(&self, value: &Value, schema: &Map<String, Value>, named: Option<Named<'_>>) -> Result<(), OutOfBounds> {
        let end = |key: &str| schema.get(key).and_then(Value::as_f64);
        let (min, max) = (end("minimum"), end("maximum"));
        if min.is_none() && max.is_none() {
            return Ok(());
        }
        let (least, most) = (min.unwrap_or(f64::MIN), max.unwrap_or(f64::MAX));
        let said = match value {
            Value::Number(number) => match number.as_f64() {
                Some(number) if (least..=most).contains(&number) => return Ok(()),
                Some(number) => plain_number(number),
                None => number.to_string(),
            },
            // What a number that is none is written as.
            Value::Null if schema.get("type").is_some_and(Value::is_string) => "without a value".to_owned(),
            _ => return Ok(()),
        };
        let named = named.unwrap_or(Named { title: "this", unit: "" });
        let found = OutOfBounds::number(named.title, named.unit, least, most, &said);
        Err(OutOfBounds { place: self.place.join("."), ..found })
    }

    fn text(&self, text: &str, schema: &Map<String, Value>, named: Option<Named<'_>>) -> Result<(), OutOfBounds> {
        let most = schema.get("maxLength").and_then(Value::as_u64);
        if most.is_none() || schema.get("pattern").and_then(Value::as_str) != Some(CLEAN) {
            return Ok(());
        }
        let most = most.map_or(usize::MAX, |most| usize::try_from(most).unwrap_or(usize::MAX));
        match fault(named.map_or("this text", |n| n.title), most, text) {
            Some(what) => Err(OutOfBounds { what, place: self.place.join(".") }),
            None => Ok(()),
        }
    }

    fn list(
        &mut self,
        list: &[Value],
        schema: &'a Map<String, Value>,
        named: Option<Named<'a>>,
    ) -> Result<(), OutOfBounds> {
        self.count(list.len(), "maxItems", schema, named)?;
        let tuple = schema.get("prefixItems").and_then(Value::as_array);
        for (at, value) in list.iter().enumerate() {
            let Some(item) = tuple.and_then(|t| t.get(at)).or_else(|| schema.get("items")) else { continue };
            self.place.push((at + 1).to_string());
            self.visit(value, item, None)?;
            self.place.pop();
        }
        Ok(())
    }

    fn map(
        &mut self,
        map: &Map<String, Value>,
        schema: &'a Map<String, Value>,
        named: Option<Named<'a>>,
    ) -> Result<(), OutOfBounds> {
        self.count(map.len(), "maxProperties", schema, named)?;
        let known = schema.get("properties").and_then(Value::as_object);
        for (key, value) in map {
            if let Some(names) = schema.get("propertyNames") {
                self.visit(&Value::from(key.as_str()), names, None)?;
            }
            let Some(field) = known.and_then(|k| k.get(key)).or_else(|| schema.get("additionalProperties")) else {
                continue;
            };
            self.place.push(short(key));
            self.visit(value, field, None)?;
            self.place.pop();
        }
        Ok(())
    }

    fn count(
        &self,
        count: usize,
        key: &str,
        schema: &Map<String, Value>,
        named: Option<Named<'_>>,
    ) -> Result<(), OutOfBounds> {
        match schema.get(key).and_then(Value::as_u64) {
            Some(most) if count as u64 > most => {
                let title = named.map_or("entries", |n| n.title);
                Err(OutOfBounds {
                    what: format!("it has {count} {title}, more than {most}"),
                    place: self.place.join("."),
                })
            }
            _ => Ok(()),
        }
    }

    fn defined(&self, target: &str) -> &'a Value {
        target.strip_prefix('#').and_then(|at| self.root.pointer(at)).unwrap_or(&Value::Null)
    }

    /// Whether a value is meant by this branch of a choice: its type, its constants and the keys
    /// that it must have.
    fn fits(&self, value: &Value, branch: &Value) -> bool {
        let Some(branch) = branch.as_object() else { return false };
        if let Some(target) = branch.get("$ref").and_then(Value::as_str) {
            return self.fits(value, self.defined(target));
        }
        if ["oneOf", "anyOf"].into_iter().any(|key| {
            branch.get(key).and_then(Value::as_array).is_some_and(|list| !list.iter().any(|b| self.fits(value, b)))
        }) {
            return false;
        }
        let is = |name: &Value| match name.as_str() {
            Some("null") => value.is_null(),
            Some("number" | "integer") => value.is_number(),
            Some("string") => value.is_string(),
            Some("array") => value.is_array(),
            Some("object") => value.is_object(),
            Some("boolean") => value.is_boolean(),
            _ => false,
        };
        let of_type =
            branch.get("type").is_none_or(|name| name.as_array().map_or_else(|| is(name), |n| n.iter().any(is)));
        let constant = branch.get("const").is_none_or(|constant| constant == value);
        let listed = branch.get("enum").and_then(Value::as_array).is_none_or(|list| list.contains(value));
        let keys = || {
            let Some(map) = value.as_object() else { return true };
            let required = branch.get("required").and_then(Value::as_array).into_iter().flatten();
            let mut fields = branch.get("properties").and_then(Value::as_object).into_iter().flatten();
            required.filter_map(Value::as_str).all(|key| map.contains_key(key))
                && fields.all(|(key, field)| match (field.get("const"), map.get(key)) {
                    (Some(constant), Some(found)) => constant == found,
                    _ => true,
                })
        };
        of_type && constant && listed && keys()
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Bound, ListBound, TextBound};
    use super::*;

    #[derive(Serialize, JsonSchema)]
    #[schemars(transform = Bound::new("coverage", "", 0.0, 1.0).schema())]
    struct Coverage(f64);

    #[derive(Serialize, JsonSchema)]
    #[schemars(transform = Bound::new("length", "mm", 0.0, 1e5).schema())]
    struct Mm(f64);

    #[derive(Serialize, JsonSchema)]
    #[serde(tag = "kind", rename_all = "kebab-case")]
    enum Tool {
        #[allow(dead_code, reason = "a branch that does not fit")]
        Brush { by_mm: Mm },
        Blade {
            #[schemars(transform = Bound::new("the blade", "mm", 1.0, 9.0).schema())]
            by_mm: Mm,
            tone: Coverage,
        },
    }

    #[derive(Serialize, JsonSchema)]
    struct Box {
        tools: Vec<Tool>,
        #[schemars(transform = TextBound::new("the label", 5).schema())]
        label: String,
        #[schemars(transform = Bound::new("the weight", "g", 0.0, 3.0).schema())]
        weight: Option<f64>,
        #[schemars(transform = ListBound::new("corners", 2).schema(), transform = Bound::new("a corner", "", -1.0, 1.0).each())]
        corners: Vec<[f64; 2]>,
        #[schemars(transform = TextBound::new("a key", 3).keys(), transform = Bound::new("a price", "", 0.0, 9.0).each())]
        prices: std::collections::BTreeMap<String, f64>,
    }

    fn good() -> Box {
        let tools = vec![Tool::Blade { by_mm: Mm(9.0), tone: Coverage(1.0) }];
        let (label, prices) = ("short".to_owned(), [("tin".to_owned(), 9.0)].into());
        Box { tools, label, weight: None, corners: vec![[1.0, -1.0], [0.0, 0.0]], prices }
    }

    #[test]
    fn every_part_of_a_value_is_held_to_its_range() {
        check(&good()).unwrap();
        let said = |change: &dyn Fn(&mut Box)| {
            let mut value = good();
            change(&mut value);
            check(&value).unwrap_err().to_string()
        };
        let blade = |b: &mut Box| {
            b.tools[0] = Tool::Blade { by_mm: Mm(9.5), tone: Coverage(0.0) };
        };
        assert_eq!(said(&blade), "the blade must be 1 to 9 mm, not 9.5 (tools.1.by_mm)");
        assert_eq!(said(&|b| b.weight = Some(3.5)), "the weight must be 0 to 3 g, not 3.5 (weight)");
        assert!(said(&|b| b.label = "longer".into()).contains("at most 5 letters, not 6"));
        assert!(said(&|b| b.label = "a\nb".into()).contains("control code"));
        assert!(said(&|b| b.corners[1][0] = 1.5).contains("a corner must be -1 to 1, not 1.5 (corners.2.1)"));
        assert!(said(&|b| b.corners.push([0.0; 2])).contains("it has 3 corners, more than 2"));
        assert!(said(&|b| b.corners[0][0] = f64::NAN).contains("without a value"));
        assert!(said(&|b| _ = b.prices.insert("paper".into(), 1.0)).contains("at most 3 letters"));
        assert!(
            said(&|b| _ = b.prices.insert("ink".into(), -1.0)).contains("a price must be 0 to 9, not -1 (prices.ink)")
        );
    }

    #[test]
    fn a_field_says_its_own_name_and_a_bare_unit_says_that_of_its_type() {
        let value = serde_json::json!({"kind": "blade", "by_mm": 2, "tone": 1.5});
        let error = check_against(&value, schema_of::<Tool>()).unwrap_err().to_string();
        assert_eq!(error, "coverage must be 0 to 1, not 1.5 (tone)");
    }
}
