//! True pixels of the art against the ruling. A halftone cell wants 1.5 to 2 pixels across
//! (common practice; 1.25 is the low end in one teaching text): under 1.5 tones go soft, under 1
//! the pixels themselves show.

use super::finding::{Basis, Finding, Input, Kind, Number, Severity};
use super::mend::{Change, Mend};
use super::survey::Survey;
use crate::units::{Lpi, Mm};

/// What a resolution means at a ruling, in a sentence for people.
pub fn resolution_meaning(true_ppi: f64, ruling: Lpi) -> String {
    let ratio = true_ppi / ruling.get();
    let head = format!("{true_ppi:.0} ppi at print size, {ratio:.1}x the {ruling} lpi ruling");
    let tail = if ratio >= 3.0 {
        "more than the halftone can show; fine edges stay sharp"
    } else if ratio >= 1.5 {
        "enough for tones (1.5 to 2x is usual); sharp edges and small type will look soft"
    } else if ratio >= 1.0 {
        "too little for clean tones (1.5x is wanted); the print will look soft all over"
    } else {
        "fewer pixels than dots; the pixels of the art will show as steps"
    };
    format!("{head}: {tail}")
}

pub(super) fn resolution(s: &Survey<'_>) -> Option<Finding> {
    let ruling = s.job.film.ruling;
    let ratio = s.true_ppi / ruling.get();
    if ratio >= 1.495 {
        return None;
    }
    let mut mends = Vec::new();
    let coarser = (s.true_ppi / 1.5).floor();
    if coarser >= 35.0
        && let Ok(ruling) = Lpi::new(coarser)
    {
        mends.push(Mend::one(format!("Ruling {coarser:.0} lpi: 1.5 pixels a dot"), Change::Ruling { ruling }));
    }
    let scale = ratio / 1.5;
    if let Ok(height) = Mm::new((s.print_mm[1] * scale).floor()) {
        mends.push(Mend::one(
            format!("Print it {:.1} in high: 1.5 pixels a dot", height.inches()),
            Change::MaxHeight { height },
        ));
    }
    Some(Finding {
        kind: Kind::Resolution,
        severity: if ratio < 1.0 { Severity::Fault } else { Severity::Caution },
        what: format!("The art has {}.", resolution_meaning(s.true_ppi, ruling)),
        number: Number { label: "pixels of the art to a dot".into(), value: ratio, unit: "x", limit: 1.5 },
        screens: Vec::new(),
        place: None,
        inputs: vec![
            Input::new("true resolution", format!("{:.0} ppi", s.true_ppi), Basis::Screens),
            Input::new("ruling", format!("{ruling} lpi"), Basis::Job),
            Input::new("wanted", "1.5 pixels a dot", Basis::Assumed),
        ],
        mends,
    })
}
