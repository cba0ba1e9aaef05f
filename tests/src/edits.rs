//! Edits of every kind, made from the list of kinds, so that a new kind is tried by every test that goes
//! through them all.

use serde_json::{Map, Value, json, to_value};
use strikeoff_core::ink::Ink;
use strikeoff_core::raster::Plane;
use strikeoff_core::tune::edits::{Field, Info, Type};
use strikeoff_core::tune::{Edit, GreyPicture};

/// What the edits work with.
pub struct Material<'a> {
    /// Screens that are there; the first is worked on, the second is the other one.
    pub screens: [&'a str; 2],
    /// The ink of new screens.
    pub ink: &'a Ink,
    /// The grey picture that is brought in.
    pub picture: &'a GreyPicture,
}

/// A small grey picture with its pixels.
pub fn glow() -> GreyPicture {
    GreyPicture::new("glow.png", "31x17", Plane::from_fn(31, 17, |x, y| (x * 1999 + y * 77) as u16))
}

/// One edit of every kind, and of those that work in several shapes one of each; values lie inside their
/// ranges and off their defaults.
pub fn every_edit(of: &Material<'_>) -> Vec<Edit> {
    Edit::kinds().iter().flat_map(|kind| samples(kind, of)).collect()
}

fn samples(kind: &Info, of: &Material<'_>) -> Vec<Edit> {
    let mut made = vec![Map::from_iter([("kind".to_owned(), json!(kind.name))])];
    let mut known = of.screens.iter();
    // Coverages rise from field to field, so that ranges of tones are ranges.
    let mut tone = 0.05;
    for field in &kind.fields {
        let values = match field.of {
            Type::Screen => vec![json!(known.next().expect("at most two screens"))],
            Type::Coverage => {
                tone += 0.3;
                vec![json!(tone - 0.25)]
            }
            _ => values(field, of, &kind.name),
        };
        let with = |map: &Map<String, Value>, value: &Value| {
            let mut map = map.clone();
            map.insert(field.key.to_owned(), value.clone());
            map
        };
        made = made.iter().flat_map(|map| values.iter().map(|value| with(map, value)).collect::<Vec<_>>()).collect();
    }
    made.into_iter().map(|map| edit(map, of.picture)).collect()
}

/// An edit from its values, with the pixels of its picture.
pub fn edit(values: Map<String, Value>, picture: &GreyPicture) -> Edit {
    let mut edit: Edit = serde_json::from_value(values.into()).expect("values of the edit's own fields");
    if let Some(grey) = edit.grey_mut() {
        *grey = picture.clone();
    }
    edit
}

fn values(field: &Field, of: &Material<'_>, kind: &str) -> Vec<Value> {
    let [low, high] = field.range.unwrap_or([0.0, 1.0]);
    match field.of {
        Type::NewScreen => vec![json!(format!("From {kind}"))],
        Type::Screens => vec![json!([of.screens[1], of.screens[0]])],
        Type::Ink | Type::OtherInk => vec![to_value(of.ink).expect("an ink")],
        Type::Number => vec![json!(low + (high - low) * 0.3)],
        Type::Length => vec![json!(low + (high - low) * 0.01)],
        Type::Count => vec![json!(2)],
        Type::Switch => vec![json!(true)],
        Type::Place => vec![json!("first")],
        Type::Curve => vec![json!([[0.0, 0.0], [40.0, 55.5], [100.0, 100.0]])],
        Type::Region => vec![
            json!({"shape": "outline", "points": [[0.1, 0.1], [0.9, 0.2], [0.5, 0.9]]}),
            json!({"shape": "ellipse", "left": 0.1, "top": 0.1, "width": 0.5, "height": 0.5}),
            json!({"shape": "rectangle", "left": 0.1, "top": 0.1, "width": 0.5, "height": 0.5}),
        ],
        Type::Source => vec![
            json!({"from": "lightness", "light": true}),
            json!({"from": "color-range", "color": "#102030", "reach": 0.05, "soft": 0.1}),
            json!({"from": "edges", "width_mm": 0.5, "strength": 2.0}),
            json!({"from": "shadows"}),
        ],
        Type::Picture => vec![to_value(of.picture).expect("a picture")],
        Type::Screen | Type::Coverage => unreachable!("chosen one after the other"),
    }
}
