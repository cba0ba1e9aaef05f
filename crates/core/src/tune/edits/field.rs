//! A value of an edit: its type, its name, range, default and hint, and the value itself to be changed.

use serde_json::Value as Json;

use super::super::{Curve, GreyPicture, Place, Region, Source};
use crate::ink::Ink;
use crate::screens::{NewName, ScreenName};
use crate::units::{Coverage, Mm};

/// What a value is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Type {
    /// A screen that must be there.
    Screen,
    /// The name of a screen that the edit adds.
    NewScreen,
    /// Screens in an order.
    Screens,
    /// An ink.
    Ink,
    /// An ink, or none.
    OtherInk,
    /// A coverage, shown in percent.
    Coverage,
    /// A length on the print in mm.
    Length,
    /// A number.
    Number,
    /// A whole number.
    Count,
    /// On or off.
    Switch,
    /// A place in the print order.
    Place,
    /// A tone curve.
    Curve,
    /// A region of the print.
    Region,
    /// What of the art makes ink.
    Source,
    /// A grey picture.
    Picture,
}

macro_rules! valued {
    ($($name:ident: $type:ty $({ $($more:tt)+ })?),+ $(,)?) => {
        /// A value of an edit, to be changed.
        #[derive(Debug)]
        #[allow(missing_docs, reason = "as in the list of types")]
        pub enum Value<'a> {
            $($name(&'a mut $type)),+
        }

        $(impl Valued for $type {
            const TYPE: Type = Type::$name;

            fn value(&mut self) -> Value<'_> {
                Value::$name(self)
            }

            $($($more)+)?
        })+
    };
}

/// A type that edits have values of.
pub trait Valued {
    /// What it is.
    const TYPE: Type;

    /// Itself, to be changed.
    fn value(&mut self) -> Value<'_>;

    /// The screens in it that must be there.
    fn needs(&self) -> &[ScreenName] {
        &[]
    }

    /// The screen that it gives a name to.
    fn adds(&self) -> Option<&ScreenName> {
        None
    }
}

valued! {
    Screen: ScreenName {
        fn needs(&self) -> &[ScreenName] {
            std::slice::from_ref(self)
        }
    },
    NewScreen: NewName {
        fn adds(&self) -> Option<&ScreenName> {
            Some(self.screen())
        }
    },
    Screens: Vec<ScreenName> {
        fn needs(&self) -> &[ScreenName] {
            self
        }
    },
    Ink: Ink,
    OtherInk: Option<Ink>,
    Coverage: Coverage,
    Length: Mm,
    Number: f64,
    Count: u8,
    Switch: bool,
    Place: Place,
    Curve: Curve,
    Region: Region,
    Source: Source,
    Picture: GreyPicture,
}

/// What there is to know of a value.
#[derive(Debug, Clone, PartialEq)]
pub struct Field {
    /// Name in the job file: `soft_edge_mm`.
    pub key: &'static str,
    /// Name in the window: "Soft edge".
    pub label: String,
    /// Name in a sentence: "the soft edge".
    pub title: String,
    /// What it is.
    pub of: Type,
    /// What it does, without a full stop.
    pub hint: String,
    /// Its unit; empty for counts and fractions.
    pub unit: String,
    /// Least and greatest value, of a number.
    pub range: Option<[f64; 2]>,
    /// The range that is used day by day, of a number; for sliders.
    pub usual: Option<[f64; 2]>,
    /// Its value if it is not given; without one it must be given.
    pub default: Option<Json>,
}

impl Field {
    /// Of a property of a schema, with the definitions that it refers to.
    pub(super) fn of(key: &'static str, of: Type, schema: &Json) -> Self {
        let property = &schema["properties"][key];
        // A reference with attributes of its own is one of several parts.
        let target = property["$ref"].as_str().and_then(|at| schema.pointer(at.trim_start_matches('#')));
        let get = |name: &str| {
            let own = property.get(name);
            own.or_else(|| target.and_then(|t| t.get(name)))
        };
        let end = |name: &str| get(name).and_then(Json::as_f64);
        let usual = get("usual").and_then(|u| Some([u.get(0)?.as_f64()?, u.get(1)?.as_f64()?]));
        let required = schema["required"].as_array().is_some_and(|list| list.iter().any(|k| k == key));
        Self {
            key,
            label: label(key),
            title: get("title").and_then(Json::as_str).unwrap_or(key).to_owned(),
            of,
            hint: sentence(property["description"].as_str().unwrap_or_default()),
            unit: get("unit").and_then(Json::as_str).unwrap_or_default().to_owned(),
            range: end("minimum").zip(end("maximum")).map(|(min, max)| [min, max]),
            usual,
            default: (!required).then(|| property.get("default").cloned().unwrap_or(Json::Null)),
        }
    }

    /// With its ends in another unit: 100 times for percent.
    pub fn with_ends_times(&self, times: f64) -> Self {
        let ends = |range: Option<[f64; 2]>| range.map(|ends| ends.map(|end| end * times));
        Self { range: ends(self.range), usual: ends(self.usual), ..self.clone() }
    }

    /// Name on the command line: `soft-edge`.
    pub fn option(&self) -> String {
        bare(self.key).replace('_', "-")
    }
}

/// A key without its unit.
fn bare(key: &str) -> &str {
    key.strip_suffix("_mm").or_else(|| key.strip_suffix("_mm2")).unwrap_or(key)
}

fn label(key: &str) -> String {
    let plain = bare(key).replace('_', " ");
    let mut letters = plain.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// A doc comment's first paragraph on one line, without its full stop.
pub(super) fn sentence(doc: &str) -> String {
    let first = doc.split("\n\n").next().unwrap_or_default();
    first.split_whitespace().collect::<Vec<_>>().join(" ").trim_end_matches('.').to_owned()
}
