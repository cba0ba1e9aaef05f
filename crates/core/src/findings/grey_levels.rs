//! Too few grey levels on the films for soft blends.

use super::finding::{Basis, Finding, Input, Kind, Number, Severity};
use super::fix::{Change, Fix};
use crate::facts::{Survey, grey_levels};
use crate::screens::ScreenName;
use crate::units::{Dpi, Lpi};

/// Steps that a forme must reproduce at least by ISO 12647-9:2021, 4.2.2 (offset; no standard
/// for garments was found).
const LEAST: u32 = 150;

pub(super) fn levels(s: &Survey<'_>) -> Option<Finding> {
    let film = &s.job.film;
    let levels = grey_levels(film.dpi, film.ruling);
    // Flat art needs none.
    let tonal = (0..s.len()).filter(|&i| s.on_grid(i) && s.tonal(i) > 0.03);
    let tonal: Vec<ScreenName> = tonal.map(|i| s.name(i).to_owned()).collect();
    if levels >= LEAST || tonal.is_empty() {
        return None;
    }
    let mut fixes = Vec::new();
    if let Ok(dpi) = Dpi::new(film.dpi.get() * 2.0) {
        fixes.push(Fix::one(
            format!("Films at {dpi} dpi: {} grey levels", grey_levels(dpi, film.ruling)),
            Change::FilmResolution { dpi },
        ));
    }
    let coarser = (film.dpi.get() / f64::from(LEAST - 1).sqrt()).floor();
    if coarser >= 30.0
        && let Ok(ruling) = Lpi::new(coarser)
    {
        fixes.push(Fix::one(
            format!("Change the ruling to {ruling} lpi: {} grey levels", grey_levels(film.dpi, ruling)),
            Change::Ruling { ruling },
        ));
    }
    Some(Finding {
        kind: Kind::GreyLevels,
        severity: if levels < 64 { Severity::Fault } else { Severity::Caution },
        what: format!(
            "Films of {} dpi at {} lpi hold only {levels} grey levels; soft blends will show steps.",
            film.dpi, film.ruling
        ),
        number: Number { label: "grey levels".into(), value: f64::from(levels), unit: "", limit: f64::from(LEAST) },
        screens: tonal,
        place: None,
        inputs: vec![
            Input::new("film resolution", format!("{} dpi", film.dpi), Basis::Job),
            Input::new("ruling", format!("{} lpi", film.ruling), Basis::Job),
            Input::new(
                "fewest for soft blends",
                format!("{LEAST} levels (ISO 12647-9, an offset standard)"),
                Basis::Assumed,
            ),
        ],
        fixes,
    })
}
