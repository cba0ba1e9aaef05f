//! CxF (ISO 17972-1) as instruments and CxF/X-4 (ISO 17972-4) use it: every `Object` with a
//! `ReflectanceSpectrum` is a sample. Elements are found by their local names, so that any prefix
//! serves. A spot ink's solid differs from its tints by the tint's percentage, where one is given.
//! CxF/X-4 says in `SpotInkCharacterisation` which object is which tint of which ink on which
//! background; element and attribute names as files in the field have them (the standard's text was
//! not at hand).

use std::collections::HashMap;

use super::{MeasuredError, Sample};

/// Most attributes of an element; those of the format have a few.
const MAX_ATTRIBUTES: usize = 1000;

/// What a spot ink's characterisation says of an object.
struct Spot {
    ink: String,
    background: String,
    /// 0 bare, 1 solid.
    tint: f64,
}

/// Objects by their identifiers, as the characterisations name them.
fn spots(document: &roxmltree::Document<'_>) -> HashMap<String, Spot> {
    let named = |n: &roxmltree::Node<'_, '_>, name: &str| n.is_element() && n.tag_name().name() == name;
    let mut out = HashMap::new();
    for ink in document.descendants().filter(|n| named(n, "SpotInkCharacterisation")) {
        let Some(ink_name) = ink.attribute("SpotInkName") else { continue };
        for set in ink.descendants().filter(|n| named(n, "MeasurementSet")) {
            let background = set.attribute("Background").unwrap_or("Substrate").to_owned();
            let all: Vec<_> = set.descendants().filter(|n| named(n, "Measurement")).collect();
            let tint = |n: &roxmltree::Node<'_, '_>| {
                n.attribute("TintLevel").or_else(|| n.attribute("Tint")).and_then(|v| v.parse::<f64>().ok())
            };
            // Percent or fraction: a set with a solid tells.
            let full = if all.iter().filter_map(tint).any(|t| t > 1.0) { 100.0 } else { 1.0 };
            for measurement in &all {
                let (Some(id), Some(tint)) = (measurement.attribute("ObjectRef"), tint(measurement)) else { continue };
                let spot = Spot { ink: ink_name.to_owned(), background: background.clone(), tint: tint / full };
                out.insert(id.to_owned(), spot);
            }
        }
    }
    out
}

/// Reads the samples with their spectra.
pub(super) fn samples(text: &str) -> Result<Vec<Sample>, MeasuredError> {
    // The parser compares each attribute of an element with all before it.
    if text.split('<').any(|element| element.matches('=').count() > MAX_ATTRIBUTES) {
        return Err(MeasuredError::NotXml(format!("an element has more than {MAX_ATTRIBUTES} attributes")));
    }
    let document = roxmltree::Document::parse(text).map_err(|e| MeasuredError::NotXml(e.to_string()))?;
    let spots = spots(&document);
    let mut out = Vec::new();
    for object in document.descendants().filter(|n| n.is_element() && n.tag_name().name() == "Object") {
        let spot = object.attribute("Id").and_then(|id| spots.get(id));
        // Where inks are characterised, other objects are references and no measurements of them.
        if !spots.is_empty() && spot.is_none() || spot.is_some_and(|s| s.tint > 0.0 && s.tint < 1.0) {
            continue;
        }
        let name = match spot {
            Some(spot) if spot.tint <= 0.0 => "card",
            Some(spot) => &spot.ink,
            None => match object.attribute("Name") {
                Some(name) => name,
                None => continue,
            },
        };
        let tag = |name: &str| {
            object
                .descendants()
                .filter(|n| n.is_element() && n.tag_name().name() == "Tag")
                .find(|n| n.attribute("Name").is_some_and(|t| t.eq_ignore_ascii_case(name)))
                .and_then(|n| n.attribute("Value"))
        };
        let tint: Option<f64> = tag("Tint").or_else(|| tag("TintPercentage")).and_then(|v| v.parse().ok());
        if tint.is_some_and(|t| t > 0.0 && t < 100.0) {
            continue;
        }
        let Some(spectrum) =
            object.descendants().find(|n| n.is_element() && n.tag_name().name() == "ReflectanceSpectrum")
        else {
            continue;
        };
        let number = |key: &str| spectrum.attribute(key).and_then(|v| v.parse::<f64>().ok());
        let start = number("StartWL").ok_or(MeasuredError::NoStart)?;
        // The specification states the step once for the file; 10 nm is its usual value.
        let step = number("Increment")
            .or_else(|| {
                document
                    .descendants()
                    .find(|n| n.is_element() && n.tag_name().name() == "WavelengthRange")
                    .and_then(|n| n.attribute("Increment"))
                    .and_then(|v| v.parse().ok())
            })
            .unwrap_or(10.0);
        let points = spectrum
            .text()
            .unwrap_or("")
            .split_whitespace()
            .enumerate()
            .map(|(at, v)| {
                let bad = || MeasuredError::Number { row: out.len() + 1, text: v.to_owned() };
                Ok((start + step * at as f64, v.parse::<f64>().map_err(|_| bad())?))
            })
            .collect::<Result<Vec<_>, MeasuredError>>()?;
        let backing = spot
            .map(|s| s.background.as_str())
            .or_else(|| tag("Background"))
            .or_else(|| tag("Backing"))
            .map(str::to_owned);
        out.push(Sample { name: name.to_owned(), backing, points });
    }
    if out.is_empty() { Err(MeasuredError::NoSpectra) } else { Ok(out) }
}
