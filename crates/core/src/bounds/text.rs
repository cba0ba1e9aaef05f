//! The length of texts and lists. Texts of a job have no control codes: a name goes onto films,
//! sheets and terminals.

use schemars::Schema;
use serde_json::{Map, Value};

use crate::names::is_control;

/// A text without control codes and line breaks, as a pattern of the schema.
pub(super) const CLEAN: &str = r"^[^\u0000-\u001F\u007F-\u009F\u2028\u2029]*$";

/// Most letters of a text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TextBound {
    /// What the text is, as a sentence names it.
    pub title: &'static str,
    /// Most letters (Unicode scalar values).
    pub most: usize,
}

/// Most entries of a list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ListBound {
    /// What the list holds, as a sentence names it.
    pub title: &'static str,
    /// Most entries.
    pub most: usize,
}

impl TextBound {
    /// A text.
    pub const fn new(title: &'static str, most: usize) -> Self {
        Self { title, most }
    }

    /// Why a text is not taken: too long, or with control codes.
    pub fn fault(&self, text: &str) -> Option<String> {
        fault(self.title, self.most, text)
    }

    /// Puts the length into the schema of a field (`#[schemars(transform = ..)]`).
    pub fn schema(self) -> impl FnMut(&mut Schema) {
        move |schema| {
            if let Some(object) = schema.as_object_mut() {
                self.put(object);
            }
        }
    }

    /// Puts the length into the schema of every text in a list.
    pub fn each(self) -> impl FnMut(&mut Schema) {
        move |schema| {
            let list = schema.as_object_mut().map(|object| match object.get("anyOf").is_some() {
                // An optional list.
                true => object.get_mut("anyOf").and_then(|any| any.get_mut(0)).and_then(Value::as_object_mut),
                false => Some(object),
            });
            if let Some(Some(Value::Object(items))) = list.map(|list| list.and_then(|list| list.get_mut("items"))) {
                self.put(items);
            }
        }
    }

    /// Puts the length into the schema of a map, for its keys.
    pub fn keys(self) -> impl FnMut(&mut Schema) {
        move |schema| {
            if let Some(object) = schema.as_object_mut() {
                // A map by names that have a pattern is written as properties of that pattern.
                if let Some(Value::Object(of_pattern)) = object.remove("patternProperties")
                    && let Some((_, values)) = of_pattern.into_iter().next()
                {
                    object.insert("additionalProperties".into(), values);
                }
                let mut keys = Map::new();
                self.put(&mut keys);
                object.insert("propertyNames".into(), keys.into());
            }
        }
    }

    fn put(&self, object: &mut Map<String, Value>) {
        object.insert("title".into(), self.title.into());
        object.insert("maxLength".into(), self.most.into());
        object.insert("pattern".into(), CLEAN.into());
    }
}

impl ListBound {
    /// A list.
    pub const fn new(title: &'static str, most: usize) -> Self {
        Self { title, most }
    }

    /// Puts the length into the schema of a list or a map (`#[schemars(transform = ..)]`).
    pub fn schema(self) -> impl FnMut(&mut Schema) {
        move |schema| {
            if let Some(object) = schema.as_object_mut() {
                object.insert("title".into(), self.title.into());
                let map = object.contains_key("additionalProperties");
                object.insert(if map { "maxProperties" } else { "maxItems" }.into(), self.most.into());
            }
        }
    }
}

pub(super) fn fault(title: &str, most: usize, text: &str) -> Option<String> {
    let letters = text.chars().count();
    if letters > most {
        return Some(format!("{title} can have at most {most} letters, not {letters}; shorten it"));
    }
    text.chars()
        .any(is_control)
        .then(|| format!("{title} holds a line break or another control code; write it in plain letters"))
}
