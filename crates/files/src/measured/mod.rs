//! Inks from an instrument: CGATS text and CxF files with spectra of solids over a white and a
//! black backing. A sample is matched to its ink and backing by a backing column or tag ("white",
//! "black"), or by a name that ends in one ("Lantern red on white"); the bare backings are samples
//! called card, backing, substrate or paper. Absent bare backings are taken as perfect, and said so.

mod cgats;
mod colors;
mod cxf;
mod wedge;

pub use colors::{Reading, colors_from_text, read_colors};
pub use wedge::{WedgeError, WedgeReading, read_wedge, typed_wedge, wedge_table};

use std::path::{Path, PathBuf};

use strikeoff_core::color::{BANDS, FIRST_NM, STEP_NM, Spectrum};
use strikeoff_core::ink::{Ink, InkRole, InkSpectra};
use strikeoff_core::names::same;

/// A file of measurements that cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum MeasuredError {
    /// The system refused.
    #[error("cannot read {}: {source}", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// Neither head nor rows.
    #[error(
        "this is no CGATS text: it has no BEGIN_DATA_FORMAT and BEGIN_DATA; export the measurement as CGATS or CxF"
    )]
    NotCgats,
    /// Broken XML.
    #[error("this CxF file cannot be read: {0}")]
    NotXml(String),
    /// A spectrum without its first wavelength.
    #[error("a spectrum in this CxF file has no StartWL; export it again with spectral data")]
    NoStart,
    /// Samples have no names.
    #[error("the samples have no names; export SAMPLE_NAME or SAMPLE_ID too")]
    NoNames,
    /// Neither spectra nor CIELAB.
    #[error("there are no colours in this file; export LAB_L, LAB_A and LAB_B, or spectra")]
    NoColors,
    /// Only colours.
    #[error("there are no spectra in this file; export spectral reflectance, 380 to 730 nm")]
    NoSpectra,
    /// A row of the wrong length.
    #[error("row {row} has {has} values, the format names {wants}")]
    Row {
        /// From 1.
        row: usize,
        /// Values in it.
        has: usize,
        /// Values needed.
        wants: usize,
    },
    /// Not a number.
    #[error("sample {row}: \"{text}\" is not a number")]
    Number {
        /// From 1.
        row: usize,
        /// As found.
        text: String,
    },
    /// A value that no surface has.
    #[error("sample \"{name}\": {why}")]
    Value {
        /// The sample.
        name: String,
        /// What is wrong.
        why: String,
    },
    /// Too narrow a range.
    #[error("sample \"{0}\" covers too little of 400 to 700 nm; measure the whole range")]
    Range(String),
    /// An ink over one backing only.
    #[error("\"{ink}\" was measured over {has} only; measure it over {wants} too, or its opacity stays unknown")]
    OneBacking {
        /// The ink.
        ink: String,
        /// The backing it has.
        has: &'static str,
        /// The one it wants.
        wants: &'static str,
    },
    /// No sample says its backing.
    #[error(
        "no sample says what it lies on; add a BACKING column with white and black, or end names in \"on white\" and \"on black\""
    )]
    NoBackings,
}

/// One measured sample as found.
struct Sample {
    name: String,
    backing: Option<String>,
    /// Wavelength in nm and value.
    points: Vec<(f64, f64)>,
}

/// Inks of a file, and what had to be assumed.
#[derive(Debug)]
pub struct MeasuredInks {
    /// In the order of the file.
    pub inks: Vec<Ink>,
    /// Notes for the user.
    pub notes: Vec<String>,
}

/// Reads a CGATS text or a CxF file.
pub fn read_measured(path: &Path) -> Result<MeasuredInks, MeasuredError> {
    let bytes = std::fs::read(path).map_err(|source| MeasuredError::Read { path: path.to_owned(), source })?;
    measured_from_text(&String::from_utf8_lossy(&bytes))
}

/// The same from the file's text; XML is known by its first character.
pub fn measured_from_text(text: &str) -> Result<MeasuredInks, MeasuredError> {
    let text = text.trim_start_matches('\u{feff}').trim_start();
    let samples = if text.starts_with('<') { cxf::samples(text)? } else { cgats::samples(text)? };
    // Percent or fraction is a matter of the whole file: dark samples alone cannot tell.
    let scale = scale(&samples);
    let mut notes = Vec::new();
    let mut cards: [Option<Spectrum>; 2] = [None, None];
    // Inks in file order, with a spectrum for each backing.
    let mut inks: Vec<(String, [Option<Spectrum>; 2])> = Vec::new();
    for sample in &samples {
        let Some((name, black)) = place(sample) else { continue };
        let spectrum = resample(sample, scale, &mut notes)?;
        if ["card", "backing", "substrate", "paper", ""].contains(&name.to_lowercase().as_str()) {
            cards[usize::from(black)] = Some(spectrum);
            continue;
        }
        let at = inks.iter().position(|(n, _)| same(n, &name)).unwrap_or_else(|| {
            inks.push((name, [None, None]));
            inks.len() - 1
        });
        inks[at].1[usize::from(black)] = Some(spectrum);
    }
    if inks.is_empty() {
        return Err(MeasuredError::NoBackings);
    }
    let [white, black] = cards;
    for (card, name, perfect) in [(&white, "white", "1"), (&black, "black", "0")] {
        if card.is_none() {
            notes.push(format!("the bare {name} backing was not measured; its reflectance is taken as {perfect}"));
        }
    }
    let white = white.unwrap_or(Spectrum([1.0; BANDS]));
    let black = black.unwrap_or(Spectrum([0.0; BANDS]));
    let inks = inks
        .into_iter()
        .map(|(name, over)| match over {
            [Some(over_white), Some(over_black)] => {
                let spectra = InkSpectra { over_white, over_black, white: white.clone(), black: black.clone() };
                let role = role_of(&name);
                Ok(Ink::measured(name, role, spectra))
            }
            [Some(_), None] => Err(MeasuredError::OneBacking { ink: name, has: "white", wants: "black" }),
            _ => Err(MeasuredError::OneBacking { ink: name, has: "black", wants: "white" }),
        })
        .collect::<Result<Vec<_>, _>>()?;
    Ok(MeasuredInks { inks, notes })
}

/// What makes fractions of the values.
fn scale(samples: &[Sample]) -> f64 {
    let most = samples.iter().flat_map(|s| &s.points).map(|p| p.1).fold(0.0, f64::max);
    if most > 2.0 { 0.01 } else { 1.0 }
}

/// Name of the ink and whether its backing is black; none if the sample says no backing.
fn place(sample: &Sample) -> Option<(String, bool)> {
    if let Some(backing) = &sample.backing {
        let backing = backing.to_lowercase();
        let black = backing.contains("black");
        return (black || backing.contains("white") || backing.contains("paper") || backing.contains("substrate"))
            .then(|| (sample.name.trim().to_owned(), black));
    }
    let lower = sample.name.to_lowercase();
    let black = lower.ends_with("black");
    if !black && !lower.ends_with("white") {
        return None;
    }
    // Both words have five letters; what joins them to the name goes too.
    let head = sample.name[..sample.name.len() - 5].trim_end_matches([' ', '-', '_', '/', ',', ':']);
    let name = [" on", " over", "_on", "_over"].iter().find_map(|tail| {
        let cut = head.len().checked_sub(tail.len())?;
        head.get(cut..)?.eq_ignore_ascii_case(tail).then(|| &head[..cut])
    });
    // "Deep black" is an ink's name, "Deep black on white" a sample of it; a bare card needs no "on".
    match name {
        Some(name) => Some((name.trim().to_owned(), black)),
        None if head.len() < sample.name.len() - 5 && sample.name.contains(['/', ':']) => {
            Some((head.trim().to_owned(), black))
        }
        None if head.trim().is_empty() => Some((String::new(), black)),
        None => None,
    }
}

fn role_of(name: &str) -> InkRole {
    let name = name.to_lowercase();
    match () {
        () if name.contains("white") && name.contains("base") => InkRole::BaseWhite,
        () if name.contains("white") => InkRole::White,
        () if name.contains("black") => InkRole::Black,
        () => InkRole::Color,
    }
}

/// The 36 bands, straight between the file's own; ends that the file lacks are held.
fn resample(sample: &Sample, scale: f64, notes: &mut Vec<String>) -> Result<Spectrum, MeasuredError> {
    let mut points = sample.points.clone();
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (Some(first), Some(last)) = (points.first(), points.last()) else {
        return Err(MeasuredError::Range(sample.name.clone()));
    };
    if first.0 > 420.0 || last.0 < 680.0 || points.windows(2).any(|p| p[1].0 - p[0].0 > 40.0) {
        return Err(MeasuredError::Range(sample.name.clone()));
    }
    let end = f64::from(FIRST_NM + STEP_NM * (BANDS as u32 - 1));
    if first.0 > f64::from(FIRST_NM) || last.0 < end {
        let note = format!("spectra run from {} to {} nm; the bands beyond are held", first.0, last.0);
        if !notes.contains(&note) {
            notes.push(note);
        }
    }
    let bands: Vec<f32> = (0..BANDS)
        .map(|b| {
            let nm = f64::from(FIRST_NM) + f64::from(STEP_NM) * b as f64;
            let right = points.partition_point(|p| p.0 < nm);
            let value = match (right.checked_sub(1).map(|l| points[l]), points.get(right)) {
                (Some((x0, y0)), Some(&(x1, y1))) => y0 + (y1 - y0) * (nm - x0) / (x1 - x0),
                (None, Some(&(_, y))) | (Some((_, y)), None) => y,
                (None, None) => 0.0,
            };
            // Instruments read a little below nothing in the dark.
            (value * scale).max(if value * scale > -0.01 { 0.0 } else { value * scale }) as f32
        })
        .collect();
    Spectrum::try_from(bands).map_err(|why| MeasuredError::Value { name: sample.name.clone(), why })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cgats(rows: &[(&str, &str, f64)]) -> String {
        let bands: Vec<String> = (0..31).map(|i| format!("SPECTRAL_NM{}", 400 + 10 * i)).collect();
        let mut text = format!(
            "CGATS.17\nORIGINATOR \"test bench\"\nNUMBER_OF_FIELDS 33\nBEGIN_DATA_FORMAT\nSAMPLE_NAME BACKING {}\nEND_DATA_FORMAT\n\
             NUMBER_OF_SETS {}\nBEGIN_DATA\n",
            bands.join(" "),
            rows.len()
        );
        for (name, backing, value) in rows {
            let values = vec![format!("{value}"); 31].join("\t");
            text += &format!("\"{name}\" {backing} {values}\n");
        }
        text + "END_DATA\n"
    }

    const ROWS: [(&str, &str, f64); 4] =
        [("card", "white", 0.9), ("card", "black", 0.05), ("Fog grey", "white", 0.5), ("Fog grey", "black", 0.33)];

    #[test]
    fn a_grey_ink_comes_out_with_its_layer() {
        let read = measured_from_text(&cgats(&ROWS)).unwrap();
        let ink = &read.inks[0];
        assert!(ink.measured && ink.name == "Fog grey");
        // Kubelka 1948: R = (0.9 0.33 - 0.05 0.5) / (0.85 + 0.9 0.05 (0.33 - 0.5)) = 0.322908, and
        // P = (0.5 - R) (1 - 0.9 R) / 0.9 = 0.139583; over a perfect white R + P / (1 - R) = 0.529060.
        let coat = ink.spectra.as_ref().unwrap().coat();
        assert!((coat.reflects[10] - 0.322_908).abs() < 1e-5 && (coat.passes[10] - 0.139_583).abs() < 1e-5);
        assert!((ink.opacity.get() - 0.322_908 / 0.529_060).abs() < 1e-4);
        assert!(read.notes[0].contains("400 to 700"), "{:?}", read.notes);
        let percent: Vec<_> = ROWS.iter().map(|(n, b, v)| (*n, *b, v * 100.0)).collect();
        assert_eq!(measured_from_text(&cgats(&percent)).unwrap().inks[0].over_white, ink.over_white);
    }

    #[test]
    fn the_same_ink_comes_from_cxf() {
        let values = |v: f64| vec![format!("{v}"); 36].join(" ");
        let objects: String = ROWS
            .iter()
            .map(|(name, backing, v)| {
                format!(
                    "<cc:Object ObjectType=\"Target\" Name=\"{name}\"><cc:ColorValues><cc:ReflectanceSpectrum StartWL=\"380\">{}\
                     </cc:ReflectanceSpectrum></cc:ColorValues><cc:TagCollection><cc:Tag Name=\"Background\" Value=\"{backing}\"/>\
                     </cc:TagCollection></cc:Object>",
                    values(*v)
                )
            })
            .collect();
        let text = format!(
            "<?xml version=\"1.0\"?><cc:CxF xmlns:cc=\"http://colorexchangeformat.com/CxF3-core\"><cc:Resources><cc:ObjectCollection>{objects}</cc:ObjectCollection></cc:Resources></cc:CxF>"
        );
        let (a, b) = (measured_from_text(&text).unwrap(), measured_from_text(&cgats(&ROWS)).unwrap());
        assert_eq!(a.inks[0].over_white, b.inks[0].over_white);
        assert!(a.notes.is_empty(), "{:?}", a.notes);
    }

    /// The same ink as CxF/X-4: the characterisation says what each object is, tints are left out.
    #[test]
    fn spot_ink_characterisations_name_ink_background_and_tint() {
        let object = |id: &str, value: f64| {
            let values = vec![format!("{value}"); 36].join(" ");
            format!(
                "<cc:Object ObjectType=\"Target\" Id=\"{id}\" Name=\"x\"><cc:ColorValues><cc:ReflectanceSpectrum StartWL=\"380\">{values}\
                 </cc:ReflectanceSpectrum></cc:ColorValues></cc:Object>"
            )
        };
        let objects = [("w0", 0.9), ("w50", 0.7), ("w100", 0.5), ("b0", 0.05), ("b100", 0.33), ("other", 0.2)]
            .map(|(id, v)| object(id, v))
            .concat();
        let set = |background: &str, list: &[(&str, u32)]| {
            let rows: String = (list.iter())
                .map(|(id, tint)| format!("<sic:Measurement TintLevel=\"{tint}\" ObjectRef=\"{id}\"/>"))
                .collect();
            format!("<sic:MeasurementSet Background=\"{background}\">{rows}</sic:MeasurementSet>")
        };
        let sets =
            set("Substrate", &[("w0", 0), ("w50", 50), ("w100", 100)]) + &set("Black", &[("b0", 0), ("b100", 100)]);
        let text = format!(
            "<?xml version=\"1.0\"?><cc:CxF xmlns:cc=\"http://colorexchangeformat.com/CxF3-core\" \
             xmlns:sic=\"http://colorexchangeformat.com/CxF3-SpotInkCharacterisation\"><cc:Resources><cc:ObjectCollection>{objects}\
             </cc:ObjectCollection></cc:Resources><cc:CustomResources><sic:SpotInkCharacterisation SpotInkName=\"Fog grey\">{sets}\
             </sic:SpotInkCharacterisation></cc:CustomResources></cc:CxF>"
        );
        let (a, b) = (measured_from_text(&text).unwrap(), measured_from_text(&cgats(&ROWS)).unwrap());
        assert_eq!(a.inks.len(), 1);
        assert_eq!((a.inks[0].name.as_str(), a.inks[0].over_white), ("Fog grey", b.inks[0].over_white));
        assert_eq!(a.inks[0].opacity, b.inks[0].opacity);
    }

    #[test]
    fn what_is_missing_is_named() {
        let message = |text: &str| measured_from_text(text).unwrap_err().to_string();
        assert!(message("hello").contains("CGATS"));
        assert!(message("<broken").contains("CxF"));
        assert!(message(&cgats(&ROWS[..3])).contains("over black too"));
        assert!(
            message("BEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L\nEND_DATA_FORMAT\nBEGIN_DATA\n1 50\nEND_DATA")
                .contains("spectra")
        );
        assert!(message(&cgats(&ROWS).replace("0.33", "x")).contains("not a number"));
    }

    #[test]
    fn backings_are_read_from_names_too() {
        let sample = |name: &str| Sample { name: name.into(), backing: None, points: Vec::new() };
        assert_eq!(place(&sample("Deep black on white")), Some(("Deep black".into(), false)));
        assert_eq!(place(&sample("Lantern red over Black")), Some(("Lantern red".into(), true)));
        assert_eq!(place(&sample("card / white")), Some(("card".into(), false)));
        assert_eq!(place(&sample("Deep black")), None);
    }
}
