//! CGATS text (ANSI CGATS.17, ISO 28178): a head of keywords, the names of the fields, and a row a
//! sample. Spectral fields carry their wavelength in their name, written in many ways.

use super::{MeasuredError, Sample};

/// The names of the fields and the rows, each as long as the names.
pub(super) struct Table {
    fields: Vec<String>,
    rows: Vec<Vec<String>>,
}

impl Table {
    /// Reads the text.
    pub fn of(text: &str) -> Result<Self, MeasuredError> {
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
        match rows.iter().position(|row| row.len() != fields.len()) {
            Some(at) => Err(MeasuredError::Row { row: at + 1, has: rows[at].len(), wants: fields.len() }),
            None => Ok(Self { fields, rows }),
        }
    }

    /// Rows.
    pub fn count(&self) -> usize {
        self.rows.len()
    }

    /// The first field of one of these names.
    pub fn column(&self, names: &[&str]) -> Option<usize> {
        self.fields.iter().position(|f| names.iter().any(|n| f.eq_ignore_ascii_case(n)))
    }

    /// The field that names a sample.
    pub fn names(&self) -> Result<usize, MeasuredError> {
        self.column(&["SAMPLE_NAME", "NAME", "SAMPLE_ID"]).ok_or(MeasuredError::NoNames)
    }

    /// A value as found.
    pub fn text(&self, row: usize, column: usize) -> &str {
        &self.rows[row][column]
    }

    /// A value as a number.
    pub fn number(&self, row: usize, column: usize) -> Result<f64, MeasuredError> {
        let text = &self.rows[row][column];
        text.parse().map_err(|_| MeasuredError::Number { row: row + 1, text: text.clone() })
    }
}

/// Reads the samples with their spectra.
pub(super) fn samples(text: &str) -> Result<Vec<Sample>, MeasuredError> {
    let table = Table::of(text)?;
    let name = table.names()?;
    let backing = table.column(&["BACKING", "SUBSTRATE", "BACKGROUND"]);
    let bands: Vec<(usize, f64)> =
        table.fields.iter().enumerate().filter_map(|(at, f)| Some((at, wavelength(f)?))).collect();
    if bands.is_empty() {
        return Err(MeasuredError::NoSpectra);
    }
    (0..table.count())
        .map(|row| {
            let points = bands
                .iter()
                .map(|&(column, nm)| Ok((nm, table.number(row, column)?)))
                .collect::<Result<Vec<_>, MeasuredError>>()?;
            let backing = backing.map(|b| table.text(row, b).to_owned());
            Ok(Sample { name: table.text(row, name).to_owned(), backing, points })
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
