//! Measured colours by name: CGATS text with CIELAB or spectra, CxF with spectra. CIELAB of a file is of D50 and the 2
//! degree observer, as instruments for print give it (ISO 13655).

use std::path::Path;

use strikeoff_core::color::{Spectrum, lab_d65_of_d50, lab_of_shares, xyz_of_spectrum};

use super::cgats::Table;
use super::{MeasuredError, Sample, cgats, cxf, resample, scale};

/// A measured colour.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// As the file calls it.
    pub name: String,
    /// CIELAB (D65).
    pub lab: [f64; 3],
    /// Its spectrum, if the file has it.
    pub spectrum: Option<Spectrum>,
}

/// Reads the colours of a file.
pub fn read_colors(path: &Path) -> Result<Vec<Reading>, MeasuredError> {
    let bytes = std::fs::read(path).map_err(|source| MeasuredError::Read { path: path.to_owned(), source })?;
    colors_from_text(&String::from_utf8_lossy(&bytes))
}

/// The same from the file's text: spectra where there are any, else CIELAB.
pub fn colors_from_text(text: &str) -> Result<Vec<Reading>, MeasuredError> {
    let text = text.trim_start_matches('\u{feff}').trim_start();
    if text.starts_with('<') {
        return of_spectra(&cxf::samples(text)?);
    }
    match cgats::samples(text) {
        Ok(samples) => of_spectra(&samples),
        Err(MeasuredError::NoSpectra) => of_lab(&Table::of(text)?),
        Err(error) => Err(error),
    }
}

fn of_spectra(samples: &[Sample]) -> Result<Vec<Reading>, MeasuredError> {
    let scale = scale(samples);
    let white = xyz_of_spectrum(&Spectrum([1.0; strikeoff_core::color::BANDS]));
    let reading = |sample: &Sample| {
        let spectrum = resample(sample, scale, &mut Vec::new())?;
        let xyz = xyz_of_spectrum(&spectrum);
        let lab = lab_of_shares(std::array::from_fn(|i| xyz[i] / white[i]));
        Ok(Reading { name: sample.name.clone(), lab, spectrum: Some(spectrum) })
    };
    samples.iter().map(reading).collect()
}

fn of_lab(table: &Table) -> Result<Vec<Reading>, MeasuredError> {
    let name = table.names()?;
    let column = |names: &[&str]| table.column(names).ok_or(MeasuredError::NoColors);
    let lab = [column(&["LAB_L", "L"])?, column(&["LAB_A", "A"])?, column(&["LAB_B", "B"])?];
    (0..table.count())
        .map(|row| {
            let mut values = [0.0; 3];
            for (value, column) in values.iter_mut().zip(lab) {
                *value = table.number(row, column)?;
            }
            Ok(Reading { name: table.text(row, name).to_owned(), lab: lab_d65_of_d50(values), spectrum: None })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A grey of 0.2 in all bands is L* 51.837 (CIE 15: 116 0.2^(1/3) - 16) under any light, both ways.
    #[test]
    fn spectra_and_cielab_tell_the_same_grey() {
        let text =
            "BEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n7 51.837 0 0\nEND_DATA\n";
        let [typed] = &colors_from_text(text).unwrap()[..] else { panic!("one") };
        let bands: Vec<String> = (0..36).map(|i| format!("NM_{}", 380 + 10 * i)).collect();
        let text = format!(
            "BEGIN_DATA_FORMAT\nSAMPLE_ID {}\nEND_DATA_FORMAT\nBEGIN_DATA\n7 {}\nEND_DATA\n",
            bands.join(" "),
            ["20"; 36].join(" ")
        );
        let [seen] = &colors_from_text(&text).unwrap()[..] else { panic!("one") };
        for reading in [typed, seen] {
            assert_eq!(reading.name, "7");
            for (got, want) in reading.lab.iter().zip([51.837, 0.0, 0.0]) {
                assert!((got - want).abs() < 0.02, "{reading:?}");
            }
        }
        let none = text.replace("NM_", "DENSITY_");
        assert!(colors_from_text(&none).unwrap_err().to_string().contains("LAB_L"));
    }
}
