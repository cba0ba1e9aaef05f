//! Too few pixels in the art for the ruling at this size.

use super::finding::{Basis, Finding, Input, Kind, Number, Severity};
use super::fix::{Change, Fix};
use crate::facts::{Survey, resolution_meaning};
use crate::units::{Lpi, Mm};

pub(super) fn resolution(s: &Survey<'_>) -> Option<Finding> {
    let ruling = s.job.film.ruling;
    let ratio = s.true_ppi / ruling.get();
    if ratio >= 1.495 {
        return None;
    }
    let mut fixes = Vec::new();
    let coarser = (s.true_ppi / 1.5).floor();
    if coarser >= 35.0
        && let Ok(ruling) = Lpi::new(coarser)
    {
        fixes.push(Fix::one(
            format!("Change the ruling to {coarser:.0} lpi: 1.5 pixels per dot"),
            Change::Ruling { ruling },
        ));
    }
    let scale = ratio / 1.5;
    if let Ok(height) = Mm::new((s.print_mm[1] * scale).floor()) {
        fixes.push(Fix::one(
            format!("Print it {:.1} in high: 1.5 pixels per dot", height.inches()),
            Change::MaxHeight { height },
        ));
    }
    Some(Finding {
        kind: Kind::Resolution,
        severity: if ratio < 1.0 { Severity::Fault } else { Severity::Caution },
        what: format!("The art has {}.", resolution_meaning(s.true_ppi, ruling)),
        number: Number { label: "pixels of the art per dot".into(), value: ratio, unit: "", limit: 1.5 },
        screens: Vec::new(),
        place: None,
        inputs: vec![
            Input::new("resolution at print size", format!("{:.0} ppi", s.true_ppi), Basis::Screens),
            Input::new("ruling", format!("{ruling} lpi"), Basis::Job),
            Input::new("lowest for clean tones", "1.5 pixels per dot", Basis::Assumed),
        ],
        fixes,
    })
}
