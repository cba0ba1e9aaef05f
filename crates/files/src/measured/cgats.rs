//! CGATS text (ANSI CGATS.17, ISO 28178): a head of keywords, the names of the fields, and a row a
//! sample. Spectral fields carry their wavelength in their name, written in many ways.

use super::{MeasuredError, Sample};

/// Reads the samples with their spectra.
pub(super) fn samples(text: &str) -> Result<Vec<Sample>, MeasuredError> {
    let mut fields: Vec<String> = Vec::new();
    let mut rows: Vec<Vec<String>> = Vec::new();
    let mut part = "";
    for line in text.lines() {
        let words = words(line);
        match words.first().map(String::as_str) {
            None => {}
            Some("BEGIN_DATA_FORMAT") => part = "fields",
            Some("BEGIN_DATA") => part = "data",
            Some("END_DATA_FORMAT" | "END_DATA") => part = "",
            Some(_) if part == "fields" => fields.extend(words),
            Some(_) if part == "data" => rows.push(words),
            Some(_) => {}
        }
    }
    if fields.is_empty() || rows.is_empty() {
        return Err(MeasuredError::NotCgats);
    }
    let column = |names: &[&str]| fields.iter().position(|f| names.iter().any(|n| f.eq_ignore_ascii_case(n)));
    let name = column(&["SAMPLE_NAME", "NAME", "SAMPLE_ID"]).ok_or(MeasuredError::NoNames)?;
    let backing = column(&["BACKING", "SUBSTRATE", "BACKGROUND"]);
    let bands: Vec<(usize, f64)> = fields.iter().enumerate().filter_map(|(at, f)| Some((at, wavelength(f)?))).collect();
    if bands.is_empty() {
        return Err(MeasuredError::NoSpectra);
    }
    rows.iter()
        .enumerate()
        .map(|(at, row)| {
            if row.len() != fields.len() {
                return Err(MeasuredError::Row { row: at + 1, has: row.len(), wants: fields.len() });
            }
            let points = bands
                .iter()
                .map(|&(column, nm)| {
                    let bad = || MeasuredError::Number { row: at + 1, text: row[column].clone() };
                    Ok((nm, row[column].parse::<f64>().map_err(|_| bad())?))
                })
                .collect::<Result<Vec<_>, MeasuredError>>()?;
            Ok(Sample { name: row[name].clone(), backing: backing.map(|b| row[b].clone()), points })
        })
        .collect()
}

/// Words of a line; quoted ones keep their blanks, `#` begins a remark.
fn words(line: &str) -> Vec<String> {
    let mut out = Vec::new();
    let mut rest = line.trim();
    while !rest.is_empty() && !rest.starts_with('#') {
        let (word, after) = match rest.strip_prefix('"') {
            Some(quoted) => quoted.split_once('"').unwrap_or((quoted, "")),
            None => rest.split_once(char::is_whitespace).unwrap_or((rest, "")),
        };
        out.push(word.to_owned());
        rest = after.trim_start();
    }
    out
}

/// Wavelength in a field's name: SPECTRAL_NM400, SPECTRAL_400, SPEC_400, NM_400, R_400, nm400.
fn wavelength(field: &str) -> Option<f64> {
    let field = field.to_ascii_uppercase();
    let digits = ["SPECTRAL_NM_", "SPECTRAL_NM", "SPECTRAL_", "SPEC_", "NM_", "NM", "R_"]
        .iter()
        .find_map(|start| field.strip_prefix(start))?;
    digits.parse().ok().filter(|nm| (300.0..=900.0).contains(nm))
}
