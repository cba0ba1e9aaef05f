//! Whites and empty screens: an underbase that is missing or not wanted, a highlight white that
//! veils the background, a screen that prints next to nothing.

use super::finding::{Basis, Finding, Input, Kind, Number, Place, Severity};
use super::mend::{Change, Mend};
use super::survey::Survey;
use crate::color::{ciede2000, lab_from_linear};
use crate::ink::InkRole;
use crate::tune::Edit;
use crate::units::Coverage;

pub(super) fn whites(s: &Survey<'_>) -> Vec<Finding> {
    let mut out = Vec::new();
    out.extend(underbase(s));
    out.extend(veil(s));
    out.extend(empty(s));
    out
}

fn underbase(s: &Survey<'_>) -> Option<Finding> {
    let garment = &s.job.garment;
    let fabric = Input::new("garment", format!("{} {}", garment.name, garment.color), Basis::Job);
    if garment.is_white() {
        let at = (0..s.len()).find(|&i| s.screens.list[i].ink.role == InkRole::BaseWhite)?;
        let mean = s.screens.list[at].coverage.mean_coverage();
        if mean < 0.01 {
            return None;
        }
        let name = s.name(at).to_owned();
        return Some(Finding {
            kind: Kind::Underbase,
            severity: Severity::Caution,
            what: format!(
                "{name} lies under the print on a white garment, which needs no underbase: a head, a flash and a heavier hand for nothing."
            ),
            number: Number { label: format!("coverage of {name}"), value: mean * 100.0, unit: "%", limit: 1.0 },
            screens: vec![name.clone()],
            place: None,
            inputs: vec![fabric],
            mends: vec![Mend::one(format!("Drop {name}"), Change::Edit { edit: Edit::drop(name) })],
        });
    }
    // Colours that want more light than the fabric gives, printed without white beneath.
    let has_white = s.screens.list.iter().any(|x| matches!(x.ink.role, InkRole::White | InkRole::BaseWhite));
    if has_white {
        return None;
    }
    let under = lab_from_linear(garment.reflectance());
    let sunk = |at: usize| {
        let mut a = vec![0.0f32; s.len()];
        s.coverages(at, &mut a);
        let target = lab_from_linear(s.target[at]);
        target.l > under.l + 20.0 && ciede2000(target, lab_from_linear(s.optics.reflectance(&a))) > 12.0
    };
    let map = s.map(|at| f64::from(u8::from(sunk(at))));
    let share = map.data().iter().filter(|&&v| v > 0).count() as f64 / map.data().len().max(1) as f64;
    if share < 0.03 {
        return None;
    }
    Some(Finding {
        kind: Kind::Underbase,
        severity: Severity::Fault,
        what: format!(
            "There is no underbase on {}: on {:.0} % of the print the colours sink into the fabric and miss the art by CIEDE2000 12 and more.",
            garment.name,
            share * 100.0
        ),
        number: Number { label: "share of the print that sinks".into(), value: share * 100.0, unit: "%", limit: 3.0 },
        screens: Vec::new(),
        place: Place::of_map(map, s.mm_per_px),
        inputs: vec![fabric, Input::new("inks", "opacity from the shelf", Basis::Assumed)],
        mends: Vec::new(),
    })
}

/// A white printed last that lies thinly over much of the print.
fn veil(s: &Survey<'_>) -> Option<Finding> {
    let at = s.len().checked_sub(1)?;
    let screen = &s.screens.list[at];
    if screen.ink.role != InkRole::White {
        return None;
    }
    let thin = |a: f64| (0.004..0.10).contains(&a);
    let share = s.mean(at, |a| f64::from(u8::from(thin(a))));
    let limit = 0.20;
    if share < limit {
        return None;
    }
    let below = Coverage::new(0.10).ok()?;
    Some(Finding {
        kind: Kind::HighlightWhite,
        severity: Severity::Caution,
        what: format!(
            "{} veils {:.0} % of the print with under 10 % of white: speckle on the garment and dull colours.",
            screen.name,
            share * 100.0
        ),
        number: Number {
            label: "share of the print veiled".into(),
            value: share * 100.0,
            unit: "%",
            limit: limit * 100.0,
        },
        screens: vec![screen.name.clone()],
        place: Place::of_map(
            s.map(|b| f64::from(u8::from(thin(f64::from(s.small[at].data()[b]) / 65535.0)))),
            s.mm_per_px,
        ),
        inputs: vec![Input::new("veil", "coverage of 0.4 to 10 %", Basis::Assumed)],
        mends: vec![Mend::one(
            format!("Trim {} below 10 % and in the background", screen.name),
            Change::Edit { edit: Edit::trim(&screen.name, below, true) },
        )],
    })
}

/// Screens that print next to nothing, all in one finding. A highlight of 20 mm2 on a full front
/// is what a screen may be for; less is not.
fn empty(s: &Survey<'_>) -> Option<Finding> {
    let found: Vec<usize> = (0..s.len()).filter(|&at| s.is_empty(at)).collect();
    let mm2 = |at: usize| s.mean(at, |a| f64::from(u8::from(a >= 0.05))) * s.print_mm[0] * s.print_mm[1];
    let most = found.iter().map(|&at| mm2(at)).fold(0.0, f64::max);
    let names: Vec<String> = found.iter().map(|&at| s.name(at).to_owned()).collect();
    if names.is_empty() {
        return None;
    }
    let one = names.len() == 1;
    Some(Finding {
        kind: Kind::EmptyScreen,
        severity: Severity::Caution,
        what: format!(
            "{} {} {}; {} a screen and a head.",
            in_words(&names),
            if one { "prints" } else { "print" },
            if most < 0.5 { "nothing".to_owned() } else { format!("on {most:.0} mm2 or less") },
            if one { "it costs" } else { "each costs" }
        ),
        number: Number { label: "printed area".into(), value: most, unit: "mm2", limit: 20.0 },
        screens: names.clone(),
        place: None,
        inputs: vec![Input::new("printed area", "coverage of 5 % and more", Basis::Screens)],
        mends: drops(s, &names),
    })
}

/// Dropping these screens, all together and one by one; never the last one of a job.
pub(super) fn drops(s: &Survey<'_>, names: &[String]) -> Vec<Mend> {
    let mut out = Vec::new();
    if names.len() > 1 && names.len() < s.len() {
        out.push(Mend {
            label: format!("Drop {}", in_words(names)),
            changes: names.iter().map(|name| Change::Edit { edit: Edit::drop(name) }).collect(),
        });
    }
    if s.len() > 1 {
        out.extend(names.iter().map(|n| Mend::one(format!("Drop {n}"), Change::Edit { edit: Edit::drop(n) })));
    }
    out
}

/// "a", "a and b", "a, b and c".
pub(super) fn in_words(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [rest @ .., last] => format!("{} and {last}", rest.join(", ")),
    }
}
