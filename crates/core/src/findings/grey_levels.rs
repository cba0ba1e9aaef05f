//! Grey levels the film printer can make of one halftone cell: (dpi / lpi)^2 + 1.

use super::finding::{Basis, Finding, Input, Kind, Number, Severity};
use super::mend::{Change, Mend};
use super::survey::Survey;
use crate::units::{Dpi, Lpi};

/// Levels of a cell, paper white included: `floor((dpi / lpi)^2) + 1`.
pub fn grey_levels(dpi: Dpi, ruling: Lpi) -> u32 {
    ((dpi.get() / ruling.get()).powi(2)).floor() as u32 + 1
}

/// Steps that a forme must reproduce at least by ISO 12647-9:2021, 4.2.2 (offset; no standard
/// for garments was found).
const WANTED: u32 = 150;

pub(super) fn levels(s: &Survey<'_>) -> Option<Finding> {
    let film = &s.job.film;
    let levels = grey_levels(film.dpi, film.ruling);
    // Flat art does not care.
    let tonal = (0..s.len()).filter(|&i| s.on_grid(i) && s.tonal(i) > 0.03);
    let tonal: Vec<String> = tonal.map(|i| s.name(i).to_owned()).collect();
    if levels >= WANTED || tonal.is_empty() {
        return None;
    }
    let mut mends = Vec::new();
    if let Ok(dpi) = Dpi::new(film.dpi.get() * 2.0) {
        mends.push(Mend::one(
            format!("Films at {dpi} dpi: {} levels", grey_levels(dpi, film.ruling)),
            Change::FilmResolution { dpi },
        ));
    }
    let coarser = (film.dpi.get() / f64::from(WANTED - 1).sqrt()).floor();
    if coarser >= 30.0
        && let Ok(ruling) = Lpi::new(coarser)
    {
        mends.push(Mend::one(
            format!("Ruling {ruling} lpi: {} levels", grey_levels(film.dpi, ruling)),
            Change::Ruling { ruling },
        ));
    }
    Some(Finding {
        kind: Kind::GreyLevels,
        severity: if levels < 64 { Severity::Fault } else { Severity::Caution },
        what: format!(
            "{} dpi films at {} lpi have {levels} grey levels; soft blends will show steps.",
            film.dpi, film.ruling
        ),
        number: Number {
            label: "grey levels".into(),
            value: f64::from(levels),
            unit: "levels",
            limit: f64::from(WANTED),
        },
        screens: tonal,
        place: None,
        inputs: vec![
            Input::new("film resolution", format!("{} dpi", film.dpi), Basis::Job),
            Input::new("ruling", format!("{} lpi", film.ruling), Basis::Job),
            Input::new("wanted", format!("{WANTED} levels (ISO 12647-9, an offset standard)"), Basis::Assumed),
        ],
        mends,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// halftone_levels.csv: (dpi / lpi)^2 + 1 for 35 pairs; 16 x 16 cells give 257 (a published
    /// printing text).
    #[test]
    fn levels_follow_the_table() {
        let path = format!("{}/../../tests/fixtures/reference/halftone_levels.csv", env!("CARGO_MANIFEST_DIR"));
        let text = std::fs::read_to_string(path).unwrap();
        let mut rows = 0;
        for line in text.lines().skip(2) {
            let v: Vec<f64> = line.split(',').map(|v| v.parse().unwrap()).collect();
            assert_eq!(f64::from(grey_levels(Dpi::new(v[0]).unwrap(), Lpi::new(v[1]).unwrap())), v[3], "{line}");
            rows += 1;
        }
        assert_eq!(rows, 35);
        assert_eq!(grey_levels(Dpi::new(720.0).unwrap(), Lpi::new(45.0).unwrap()), 257);
    }
}
