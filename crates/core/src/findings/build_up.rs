//! Build-up: how much ink lies in one place. Thick patches feel like a plate, crack in the wash
//! and cure unevenly.

use super::finding::{Basis, Finding, Input, Kind, Number, RiskArea, Severity};
use super::fix::{Change, Fix};
use super::ink_cuts::{PLACE, cuts};
use crate::facts::{Survey, largest_patch, total_ink};
use crate::tune::{Edit, edits};

/// Total ink in one place that a soft print stays under, in percent of a solid, whatever the
/// separation was allowed (assumed; shops differ). A base, a highlight white and a colour between
/// them make 300.
const SOFT_LIMIT: f64 = 340.0;

/// Rounding of tones and means of blocks, in percent of a solid.
const ROUNDING: f64 = 5.0;

/// Ink over the limit that makes a fault: one more full layer, on this share of the print (assumed).
const LAYER: f64 = 100.0;
const FAULT_SHARE: f64 = 0.05;

/// Largest unbroken patch of two full layers and more that still wears well, in cm2 (assumed):
/// a square of 20 cm.
const PATCH_CM2: f64 = 400.0;

pub(super) fn build_up(s: &Survey<'_>) -> Vec<Finding> {
    let ink = total_ink(s);
    let mut out = Vec::new();
    out.extend(too_much(s, &ink));
    out.extend(plate(s, &ink));
    out
}

/// The most ink in one place that this job may have, in percent of a solid, and what it rests on.
fn limit(s: &Survey<'_>) -> (f64, Input) {
    let own = s.job.separation.total_ink_limit * 100.0;
    if own <= SOFT_LIMIT {
        (own, Input::new("limit", format!("{own:.0} % of a solid, the separation's own"), Basis::Job))
    } else {
        (SOFT_LIMIT, Input::new("limit", format!("{SOFT_LIMIT:.0} % of a solid for a soft print"), Basis::Assumed))
    }
}

fn too_much(s: &Survey<'_>, ink: &[f32]) -> Option<Finding> {
    let (limit, limit_input) = limit(s);
    let over = |at: usize| f64::from(ink[at]) * 100.0 - limit;
    let share = |by: f64| (0..ink.len()).filter(|&at| over(at) > by).count() as f64 / ink.len().max(1) as f64;
    let heavy = share(ROUNDING);
    if heavy <= PLACE {
        return None;
    }
    let most = f64::from(ink.iter().copied().fold(0.0f32, f32::max)) * 100.0;
    let deep = share(LAYER - ROUNDING) >= FAULT_SHARE;
    let blocks: Vec<usize> = (0..ink.len()).filter(|&at| over(at) > ROUNDING).collect();
    let hits = fewer_hits(s).into_iter().filter(|(at, _)| {
        let left = blocks.iter().filter(|&&block| {
            let spare = s.printed(*at, s.at(*at, block)) * f64::from(s.screens.list[*at].hits - 1);
            over(block) - spare * 100.0 > ROUNDING
        });
        left.count() as f64 / ink.len().max(1) as f64 <= PLACE
    });
    let fixes = hits.map(|(_, fix)| fix).chain(cuts(s, &blocks, limit)).collect();
    Some(Finding {
        kind: Kind::BuildUp,
        severity: if deep { Severity::Fault } else { Severity::Caution },
        what: format!(
            "Ink builds up to {most:.0} % on {:.0} % of the print, over the limit of {limit:.0} %: it will feel heavy, dry \
             slowly and may crack.",
            heavy * 100.0
        ),
        number: Number { label: "ink in one place".into(), value: most, unit: "%", limit },
        screens: Vec::new(),
        place: RiskArea::of_map(
            s.map(|at| if over(at) > ROUNDING { 0.3 + over(at) / 100.0 } else { 0.0 }),
            s.mm_per_px,
        ),
        inputs: vec![
            Input::new("ink in one place", "coverage of all screens, hits counted", Basis::Screens),
            limit_input,
        ],
        fixes,
    })
}

fn plate(s: &Survey<'_>, ink: &[f32]) -> Option<Finding> {
    let (cm2, map) = largest_patch(s, ink, 1.9);
    (cm2 > PATCH_CM2).then(|| Finding {
        kind: Kind::BuildUp,
        severity: Severity::Caution,
        what: format!(
            "An unbroken patch of {cm2:.0} cm2 carries two full layers of ink or more: it will be stiff and will not breathe."
        ),
        number: Number { label: "largest heavy patch".into(), value: cm2, unit: "cm2", limit: PATCH_CM2 },
        screens: Vec::new(),
        place: RiskArea::of_map(map, s.mm_per_px),
        inputs: vec![
            Input::new("patch", "1.9 layers of ink or more, unbroken", Basis::Screens),
            Input::new("limit", format!("{PATCH_CM2:.0} cm2"), Basis::Assumed),
        ],
        fixes: fewer_hits(s).into_iter().map(|(_, fix)| fix).collect(),
    })
}

/// Screens that print more than once, with a fix that prints them once.
fn fewer_hits(s: &Survey<'_>) -> Vec<(usize, Fix)> {
    let screens = s.screens.list.iter().enumerate().filter(|(_, x)| x.hits > 1);
    let once = |(at, x): (usize, &crate::screens::Screen)| {
        let change = Change::Edit { edit: Edit::Hits(edits::Hits { screen: x.name.clone(), hits: 1 }) };
        (at, Fix::one(format!("Print {} once instead of {} times", x.name, x.hits), change))
    };
    screens.map(once).collect()
}
