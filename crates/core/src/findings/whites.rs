//! Whites and empty screens: an underbase that is missing or not needed, a highlight white that hazes
//! the background, a screen that prints next to nothing.

use super::finding::{Basis, Finding, Input, Kind, Number, RiskArea, Severity};
use super::fix::{Change, Fix, drops};
use super::words::{list_of, plural};
use crate::color::{ciede2000, lab_from_linear};
use crate::facts::{HIGHLIGHT_MM2, Survey};
use crate::ink::InkRole;
use crate::screens::ScreenName;
use crate::tune::Edit;
use crate::units::Coverage;

/// `late` are bases that print after the colours: of those there is a worse finding.
pub(super) fn whites(s: &Survey<'_>, late: &[ScreenName]) -> Vec<Finding> {
    let mut out = Vec::new();
    if s.job.garment.is_white() {
        out.extend(needless_base(s, late));
    } else {
        out.extend(missing_base(s));
    }
    out.extend(haze(s));
    out.extend(empty(s));
    out
}

fn fabric(s: &Survey<'_>) -> Input {
    let (name, color) = (&s.job.garment.name, s.job.garment.color.to_string());
    Input::new("garment", if *name == color { color } else { format!("{name} {color}") }, Basis::Job)
}

fn needless_base(s: &Survey<'_>, late: &[ScreenName]) -> Option<Finding> {
    let is_base = |&i: &usize| s.screens.list[i].ink.role == InkRole::BaseWhite;
    let at = (0..s.len()).filter(is_base).find(|&i| !late.iter().any(|name| name == s.name(i)))?;
    let mean = s.screens.list[at].coverage.mean_coverage();
    if mean < 0.01 {
        return None;
    }
    let name = s.name(at).to_owned();
    Some(Finding {
        kind: Kind::Underbase,
        severity: Severity::Caution,
        what: format!(
            "{name} prints under the colours on a white garment, which needs no underbase: an extra head, a flash and a \
             heavier print for nothing."
        ),
        number: Number { label: format!("coverage of {name}"), value: mean * 100.0, unit: "%", limit: 1.0 },
        screens: vec![name.clone()],
        place: RiskArea::of_map(s.map(|block| s.at(at, block)), s.mm_per_px),
        inputs: vec![fabric(s)],
        fixes: drops(s.len(), &[name]),
    })
}

/// Colour difference from the art and lightness over the fabric at which a colour sinks (assumed).
const SINKS: f32 = 12.0;
const LIGHTER: f32 = 20.0;

/// Share of the print that sinks (assumed).
const SUNK: f64 = 0.03;

/// Colours lighter than the fabric, printed without white beneath.
fn missing_base(s: &Survey<'_>) -> Option<Finding> {
    let garment = &s.job.garment;
    if s.screens.list.iter().any(|x| matches!(x.ink.role, InkRole::White | InkRole::BaseWhite)) {
        return None;
    }
    let under = lab_from_linear(garment.reflectance());
    let sunk = |at: usize| {
        let mut a = vec![0.0f32; s.len()];
        s.coverages(at, &mut a);
        let target = lab_from_linear(s.target[at]);
        target.l > under.l + LIGHTER && ciede2000(target, lab_from_linear(s.optics.reflectance(&a))) > SINKS
    };
    let map = s.map(|at| f64::from(u8::from(sunk(at))));
    let share = map.data().iter().filter(|&&v| v > 0).count() as f64 / map.data().len().max(1) as f64;
    if share < SUNK {
        return None;
    }
    Some(Finding {
        kind: Kind::Underbase,
        severity: Severity::Fault,
        what: format!(
            "There is no underbase on {}: on {:.0} % of the print the colours sink into the fabric, dE {SINKS:.0} and more \
             from the art.",
            garment.name,
            share * 100.0
        ),
        number: Number {
            label: "share of the print that sinks".into(),
            value: share * 100.0,
            unit: "%",
            limit: SUNK * 100.0,
        },
        screens: Vec::new(),
        place: RiskArea::of_map(map, s.mm_per_px),
        inputs: vec![fabric(s), Input::new("inks", "opacity from the shelf", Basis::Assumed)],
        // Screens have to be separated again for a base: no single change makes one.
        fixes: Vec::new(),
    })
}

/// Coverages that make a haze.
const HAZE: std::ops::Range<f64> = 0.004..0.10;

/// Shares of the print under an even haze, and under any, that make a caution (assumed). Light tones of
/// a picture end in such coverages too, but not evenly and not over most of it.
const HAZED_EVENLY: f64 = 0.20;
const HAZED: f64 = 0.50;

/// Neighbours of an even haze differ by no more than this, in coverage (assumed).
const EVEN: f64 = 0.004;

/// A white printed last that lies thinly over much of the print.
fn haze(s: &Survey<'_>) -> Option<Finding> {
    let at = s.len().checked_sub(1)?;
    let screen = &s.screens.list[at];
    if screen.ink.role != InkRole::White {
        return None;
    }
    let thin = |a: f64| HAZE.contains(&a);
    let share = s.mean(at, |a| f64::from(u8::from(thin(a))));
    let w = s.small[at].width();
    let even = |block: &usize| {
        let (here, next) = (s.at(at, *block), if (block + 1).is_multiple_of(w) { *block } else { block + 1 });
        thin(here) && (s.at(at, next) - here).abs() <= EVEN
    };
    let even = (0..s.blocks()).filter(even).count() as f64 / s.blocks().max(1) as f64;
    if even < HAZED_EVENLY && share < HAZED {
        return None;
    }
    let below = Coverage::new(0.10).ok()?;
    Some(Finding {
        kind: Kind::HighlightWhite,
        severity: Severity::Caution,
        what: format!(
            "{} lays less than 10 % white over {:.0} % of the print: a haze on the garment and dull colours.",
            screen.name,
            share * 100.0
        ),
        number: Number {
            label: "share of the print with a haze".into(),
            value: share * 100.0,
            unit: "%",
            limit: HAZED_EVENLY * 100.0,
        },
        screens: vec![screen.name.clone()],
        place: RiskArea::of_map(s.map(|b| f64::from(u8::from(thin(s.at(at, b))))), s.mm_per_px),
        inputs: vec![Input::new("haze", "coverage of 0.4 to 10 %", Basis::Assumed)],
        fixes: vec![Fix::one(
            format!("Trim {} under 10 % and in the background", screen.name),
            Change::Edit { edit: Edit::trim(&screen.name, below, true) },
        )],
    })
}

/// Screens that print next to nothing, all in one finding. A highlight of 20 mm2 on a full front
/// is what a screen may be for; less is not.
fn empty(s: &Survey<'_>) -> Option<Finding> {
    let found: Vec<usize> = (0..s.len()).filter(|&at| s.is_empty(at)).collect();
    let most = found.iter().map(|&at| s.area_mm2(at, 0.05)).fold(0.0, f64::max);
    let names: Vec<ScreenName> = found.iter().map(|&at| s.name(at).to_owned()).collect();
    if names.is_empty() {
        return None;
    }
    let count = names.len();
    Some(Finding {
        kind: Kind::EmptyScreen,
        severity: Severity::Caution,
        what: format!(
            "{} {} {}; {} a screen and a head.",
            list_of(&names, "and"),
            plural(count, "prints", "print"),
            if most < 0.5 { "nothing".to_owned() } else { format!("on {most:.0} mm2 or less") },
            plural(count, "it costs", "each costs")
        ),
        number: Number { label: "printed area".into(), value: most, unit: "mm2", limit: HIGHLIGHT_MM2 },
        screens: names.clone(),
        place: None,
        inputs: vec![Input::new("printed area", "coverage of 5 % and more", Basis::Screens)],
        fixes: drops(s.len(), &names),
    })
}
