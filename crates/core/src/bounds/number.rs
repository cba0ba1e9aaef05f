//! The range of a number: what it is called, its unit, its least and its greatest value.

use std::ops::RangeInclusive;

use schemars::Schema;
use serde_json::Value;

use super::OutOfBounds;

/// The range of a number. Both ends belong to it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bound {
    /// What the number is, as a sentence names it.
    pub title: &'static str,
    /// Its unit as it is written behind the number; empty for fractions and counts.
    pub unit: &'static str,
    /// Least value.
    pub min: f64,
    /// Greatest value.
    pub max: f64,
    /// What is used day by day, for sliders; the whole range if it is not narrower.
    pub usual: Option<(f64, f64)>,
}

impl Bound {
    /// A range.
    pub const fn new(title: &'static str, unit: &'static str, min: f64, max: f64) -> Self {
        Self { title, unit, min, max, usual: None }
    }

    /// With the part of the range that is used day by day.
    pub const fn usual(self, from: f64, to: f64) -> Self {
        Self { usual: Some((from, to)), ..self }
    }

    /// From least to greatest, for fields of a window.
    pub const fn range(&self) -> RangeInclusive<f64> {
        self.min..=self.max
    }

    /// Whether a number lies in the range; NaN does not.
    pub fn check(&self, value: f64) -> Result<(), OutOfBounds> {
        if self.range().contains(&value) {
            return Ok(());
        }
        Err(OutOfBounds::number(self.title, self.unit, self.min, self.max, &plain_number(value)))
    }

    /// Puts the range into the schema of a field (`#[schemars(transform = ..)]`).
    pub fn schema(self) -> impl FnMut(&mut Schema) {
        move |schema| {
            if let Some(object) = schema.as_object_mut() {
                self.put(object);
            }
        }
    }

    /// Puts the range into the schema of every number in a list, of lists, or of a map.
    pub fn each(self) -> impl FnMut(&mut Schema) {
        fn inner(bound: Bound, object: &mut serde_json::Map<String, Value>) {
            match ["items", "additionalProperties"]
                .into_iter()
                .find(|key| object.get(*key).is_some_and(Value::is_object))
            {
                Some(key) => {
                    if let Some(Value::Object(items)) = object.get_mut(key) {
                        inner(bound, items);
                    }
                }
                None => bound.put(object),
            }
        }
        move |schema| {
            if let Some(object) = schema.as_object_mut() {
                inner(self, object);
            }
        }
    }

    fn put(&self, object: &mut serde_json::Map<String, Value>) {
        object.insert("title".into(), self.title.into());
        if !self.unit.is_empty() {
            object.insert("unit".into(), self.unit.into());
        }
        object.insert("minimum".into(), number(self.min));
        object.insert("maximum".into(), number(self.max));
        if let Some((from, to)) = self.usual {
            object.insert("usual".into(), vec![number(from), number(to)].into());
        }
    }
}

/// Puts what is used day by day into the schema of a field that has the range of its type.
pub fn usual(from: f64, to: f64) -> impl FnMut(&mut Schema) {
    move |schema| {
        if let Some(object) = schema.as_object_mut() {
            object.insert("usual".into(), vec![number(from), number(to)].into());
        }
    }
}

/// Whole numbers without a decimal point.
fn number(value: f64) -> Value {
    if value.fract() == 0.0 && value.abs() < 1e15 { Value::from(value as i64) } else { Value::from(value) }
}

/// A number as a sentence shows it: as it is, but never as hundreds of digits.
pub fn plain_number(value: f64) -> String {
    let size = value.abs();
    if size >= 1e9 || (size > 0.0 && size < 1e-4) { format!("{value:e}") } else { format!("{value}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sentence_names_the_range_and_its_unit() {
        let reach = Bound::new("the reach", "mm", 0.0, 25.0);
        assert!(reach.check(0.0).is_ok() && reach.check(25.0).is_ok());
        let said = reach.check(1e308).unwrap_err().to_string();
        assert_eq!(said, "the reach must be 0 to 25 mm, not 1e308");
        assert!(reach.check(f64::NAN).is_err() && reach.check(-1e-308).is_err());
        assert!(reach.check(-0.0).is_ok(), "minus nothing is nothing");
    }
}
