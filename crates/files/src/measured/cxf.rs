//! CxF (ISO 17972-1) as instruments and CxF/X-4 (ISO 17972-4) use it: every `Object` with a
//! `ReflectanceSpectrum` is a sample. Elements are found by their local names, so that any prefix
//! serves. A spot ink's solid is told from its tints by the tint's percentage, where one is given.

use super::{MeasuredError, Sample};

/// Reads the samples with their spectra.
pub(super) fn samples(text: &str) -> Result<Vec<Sample>, MeasuredError> {
    let document = roxmltree::Document::parse(text).map_err(|e| MeasuredError::NotXml(e.to_string()))?;
    let mut out = Vec::new();
    for object in document.descendants().filter(|n| n.is_element() && n.tag_name().name() == "Object") {
        let Some(name) = object.attribute("Name") else { continue };
        let tag = |wanted: &str| {
            object
                .descendants()
                .filter(|n| n.is_element() && n.tag_name().name() == "Tag")
                .find(|n| n.attribute("Name").is_some_and(|t| t.eq_ignore_ascii_case(wanted)))
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
        let backing = tag("Background").or_else(|| tag("Backing")).map(str::to_owned);
        out.push(Sample { name: name.to_owned(), backing, points });
    }
    if out.is_empty() { Err(MeasuredError::NoSpectra) } else { Ok(out) }
}
