//! Readings of a calibration print: an instrument's table, typed lines, or photographs.

use std::path::{Path, PathBuf};

use strikeoff_core::color::lab_d65_of_d50;
use strikeoff_core::fingerprint::{Patch, Planned, Tint};
use strikeoff_core::names::short;

use super::{PressPrintError, layout};
use crate::art::{decode_art, read_art_file};
use crate::measured::{MeasuredError, Reading, colors_from_text};
use crate::photo::{Shot, Strip, is_picture, read_photo};

/// What there is to read of a print.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ReadPrint {
    /// A table of readings, or a photograph of the wet print.
    pub wet: PathBuf,
    /// A photograph of the flashed print.
    pub flashed: Option<PathBuf>,
    /// Measured values of the strip in the photographs; as drawn, which is assumed, if left out.
    pub strip: Option<PathBuf>,
}

/// Noise of an instrument's reading in L*, a* and b*, one sigma: an assumption.
const INSTRUMENT: f64 = 0.3;

impl ReadPrint {
    /// The patches, the noise of a reading, and what the photographs were like.
    pub fn patches(&self, planned: &[Planned]) -> Result<(Vec<Patch>, f64, Vec<Shot>), PressPrintError> {
        let bytes = read(&self.wet)?;
        if !is_picture(&bytes) {
            if self.flashed.is_some() || self.strip.is_some() {
                return Err(PressPrintError::NoPhoto(self.wet.clone()));
            }
            let readings = readings_from_text(&String::from_utf8_lossy(&bytes))?;
            return Ok((read_patches(&readings, planned)?, INSTRUMENT, Vec::new()));
        }
        let strip = strip(self.strip.as_deref())?;
        let (mut patches, mut shots) = (Vec::new(), Vec::new());
        for (path, flashed) in [(Some(&self.wet), false), (self.flashed.as_ref(), true)] {
            let Some(path) = path else { continue };
            let (name, bytes) = read_art_file(path)?;
            let picture = decode_art(&name, &bytes)?.picture;
            let shot = read_photo(&picture, &layout(planned.len()), &strip)
                .map_err(|source| PressPrintError::Photo { path: path.clone(), source })?;
            patches.extend(shot_patches(&shot, planned, flashed));
            shots.push(shot);
        }
        let noise = shots.iter().map(|shot| shot.noise.powi(2)).sum::<f64>() / shots.len() as f64;
        Ok((patches, noise.sqrt(), shots))
    }
}

fn read(path: &Path) -> Result<Vec<u8>, PressPrintError> {
    std::fs::read(path).map_err(|source| MeasuredError::Read { path: path.to_owned(), source }.into())
}

/// A reference strip: by its values in a file, or as drawn.
pub fn strip(path: Option<&Path>) -> Result<Strip, PressPrintError> {
    let Some(path) = path else { return Ok(Strip::default()) };
    let strip = Strip::from_text(&String::from_utf8_lossy(&read(path)?));
    strip.map_err(|source| PressPrintError::Strip { path: path.to_owned(), source })
}

/// A photograph's fields as readings of a print, wet on wet or flashed: the patches that are read on it.
fn shot_patches(shot: &Shot, planned: &[Planned], flashed: bool) -> Vec<Patch> {
    let read = planned.iter().zip(&shot.fields).filter_map(|(plan, field)| {
        let flashed = if flashed { plan.flashed } else { plan.wet }?;
        Some(Patch { tint: Tint { film: plan.film.clone(), flashed }, lab: field.lab })
    });
    read.collect()
}

/// Readings of a print as patches. A name is the patch's number, with f or "flashed" where it was read on the flashed
/// print.
pub fn read_patches(readings: &[Reading], planned: &[Planned]) -> Result<Vec<Patch>, PressPrintError> {
    let patch = |reading: &Reading| {
        let text = reading.name.trim().to_lowercase();
        let digits: String = text.chars().take_while(char::is_ascii_digit).collect();
        let rest = text[digits.len()..].trim_start_matches([' ', '_', '-']);
        let unknown = || PressPrintError::NoPatch(short(&reading.name));
        let number: usize = digits.parse().map_err(|_| unknown())?;
        let on_flashed = match rest {
            "" | "w" | "wet" => false,
            "f" | "flashed" => true,
            _ => return Err(unknown()),
        };
        let plan = planned.get(number).ok_or(PressPrintError::Beyond(number))?;
        let flashed = match on_flashed {
            true => Tint::dry(Vec::new()).flashed,
            // The wet print of a dark garment flashes its base, as its other patches say.
            false => plan.wet.or_else(|| planned.iter().find_map(|p| p.wet)).unwrap_or(0),
        };
        Ok(Patch { tint: Tint { film: plan.film.clone(), flashed }, lab: reading.lab })
    };
    readings.iter().map(patch).collect()
}

/// Readings from an instrument's file, or typed: a line each of a name and L* a* b* under D50.
pub fn readings_from_text(text: &str) -> Result<Vec<Reading>, PressPrintError> {
    if text.contains("BEGIN_DATA") || text.trim_start_matches('\u{feff}').trim_start().starts_with('<') {
        return Ok(colors_from_text(text)?);
    }
    let lines = text.lines().enumerate().filter(|(_, line)| !line.trim().is_empty() && !line.starts_with('#'));
    lines
        .map(|(at, line)| {
            let bad = || PressPrintError::Line { line: at + 1, text: short(line) };
            let words: Vec<&str> = line.split([' ', '\t', ',', ';']).filter(|w| !w.is_empty()).collect();
            let [name, l, a, b] = words[..] else { return Err(bad()) };
            let mut lab = [0.0; 3];
            for (value, word) in lab.iter_mut().zip([l, a, b]) {
                *value = word.parse().map_err(|_| bad())?;
            }
            Ok(Reading { name: name.to_owned(), lab: lab_d65_of_d50(lab), spectrum: None })
        })
        .collect()
}
