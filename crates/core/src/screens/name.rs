//! The name of a screen: what edits, films, meshes and prices find it by, whatever its case.

use std::borrow::Cow;
use std::cmp::Ordering;
use std::fmt;
use std::hash::{Hash, Hasher};
use std::ops::Deref;

use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::{Deserialize, Serialize};

use crate::bounds::table;

/// The name of a screen. It is kept as it was written; two are the same name, and the same key of a
/// map, if they differ in case only. The case is folded once, when the name is made.
#[derive(Clone, Default, Serialize, Deserialize)]
#[serde(from = "String", into = "String")]
pub struct ScreenName {
    written: String,
    folded: String,
}

impl ScreenName {
    /// As it was written.
    pub fn as_str(&self) -> &str {
        &self.written
    }

    /// Whether both are written alike, letter by letter.
    pub fn is_written_as(&self, other: &Self) -> bool {
        self.written == other.written
    }

    /// Whether nothing but blanks is in it.
    pub fn is_blank(&self) -> bool {
        self.written.trim().is_empty()
    }
}

impl From<String> for ScreenName {
    fn from(written: String) -> Self {
        let folded = written.to_lowercase();
        Self { written, folded }
    }
}

impl From<&str> for ScreenName {
    fn from(written: &str) -> Self {
        written.to_owned().into()
    }
}

impl From<&String> for ScreenName {
    fn from(written: &String) -> Self {
        written.clone().into()
    }
}

impl From<&Self> for ScreenName {
    fn from(name: &Self) -> Self {
        name.clone()
    }
}

impl From<ScreenName> for String {
    fn from(name: ScreenName) -> Self {
        name.written
    }
}

impl AsRef<str> for ScreenName {
    fn as_ref(&self) -> &str {
        &self.written
    }
}

impl Deref for ScreenName {
    type Target = str;

    fn deref(&self) -> &str {
        &self.written
    }
}

impl PartialEq for ScreenName {
    fn eq(&self, other: &Self) -> bool {
        self.folded == other.folded
    }
}

impl Eq for ScreenName {}

impl PartialOrd for ScreenName {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for ScreenName {
    fn cmp(&self, other: &Self) -> Ordering {
        self.folded.cmp(&other.folded)
    }
}

impl Hash for ScreenName {
    fn hash<H: Hasher>(&self, state: &mut H) {
        self.folded.hash(state);
    }
}

impl PartialEq<str> for ScreenName {
    fn eq(&self, other: &str) -> bool {
        self.written == other || self.folded == other.to_lowercase()
    }
}

impl PartialEq<&str> for ScreenName {
    fn eq(&self, other: &&str) -> bool {
        *self == **other
    }
}

impl PartialEq<String> for ScreenName {
    fn eq(&self, other: &String) -> bool {
        *self == **other
    }
}

impl fmt::Display for ScreenName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.written)
    }
}

impl fmt::Debug for ScreenName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Debug::fmt(&self.written, f)
    }
}

impl JsonSchema for ScreenName {
    fn schema_name() -> Cow<'static, str> {
        "ScreenName".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        let mut schema = schemars::json_schema!({ "type": "string" });
        table::SCREEN_NAME.schema()(&mut schema);
        schema
    }
}

/// Names one after the other: "Teal, Rose".
pub fn joined(names: &[ScreenName]) -> String {
    names.iter().map(ScreenName::as_str).collect::<Vec<_>>().join(", ")
}

/// The name of a screen that an edit adds.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct NewName(ScreenName);

impl NewName {
    /// The name.
    pub fn screen(&self) -> &ScreenName {
        &self.0
    }
}

impl<T: Into<ScreenName>> From<T> for NewName {
    fn from(name: T) -> Self {
        Self(name.into())
    }
}

impl Deref for NewName {
    type Target = ScreenName;

    fn deref(&self) -> &ScreenName {
        &self.0
    }
}

impl fmt::Display for NewName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl JsonSchema for NewName {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        "NewName".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        generator.subschema_for::<ScreenName>()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    #[test]
    fn case_makes_no_other_name_and_stays_as_written() {
        let (a, b) = (ScreenName::from("\u{39c}\u{3b1}\u{cd}\u{3bf}"), ScreenName::from("\u{3bc}\u{391}\u{ed}\u{39f}"));
        assert!(a == b && !a.is_written_as(&b) && a.as_str() != b.as_str());
        let prices: BTreeMap<ScreenName, f64> =
            [("Teal".into(), 1.0), ("teal".into(), 2.0), ("Rose".into(), 3.0)].into();
        assert_eq!((prices.len(), prices.get(&"TEAL".into())), (2, Some(&2.0)));
        assert_eq!(format!("{:6}|", ScreenName::from("Rose")), "Rose  |");
    }
}
