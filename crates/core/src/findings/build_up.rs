//! Build-up: how much ink lies in one place. Thick patches feel like a plate, crack in the wash
//! and cure unevenly.

use super::finding::{Basis, Finding, Input, Kind, Number, Place, Severity};
use super::mend::{Change, Mend};
use super::survey::Survey;
use crate::raster::Plane;
use crate::tune::Edit;

/// Total ink in one place that a soft print stays under, in percent of a solid (assumed; shops
/// differ). A base, a highlight white and a colour between them make 300.
const LIMIT: f64 = 340.0;

/// Largest unbroken patch of two full layers and more that still wears well, in cm2 (assumed):
/// a square of 20 cm.
const PATCH_CM2: f64 = 400.0;

/// Printed ink of every block, in solids: 1.0 is one full layer.
pub(super) fn total_ink(s: &Survey<'_>) -> Vec<f32> {
    (0..s.blocks())
        .map(|at| {
            (0..s.len())
                .map(|i| {
                    let a = f64::from(s.small[i].data()[at]) / 65535.0;
                    (s.printed(a) * f64::from(s.screens.list[i].hits)) as f32
                })
                .sum()
        })
        .collect()
}

/// Area in cm2 of the largest patch of blocks, joined at their sides, with at least `layers` of
/// ink, and its map.
pub(super) fn largest_patch(s: &Survey<'_>, ink: &[f32], layers: f32) -> (f64, Plane<u8>) {
    let (w, h) = (s.small.first().map_or(1, Plane::width), s.small.first().map_or(1, Plane::height));
    let mut seen = vec![false; ink.len()];
    let mut best: Vec<usize> = Vec::new();
    for start in 0..ink.len() {
        if seen[start] || ink[start] < layers {
            continue;
        }
        let mut patch = vec![start];
        seen[start] = true;
        let mut next = 0;
        while next < patch.len() {
            let at = patch[next];
            next += 1;
            let (x, y) = (at % w, at / w);
            let mut visit = |x: usize, y: usize| {
                let to = y * w + x;
                if !seen[to] && ink[to] >= layers {
                    seen[to] = true;
                    patch.push(to);
                }
            };
            if x > 0 {
                visit(x - 1, y);
            }
            if x + 1 < w {
                visit(x + 1, y);
            }
            if y > 0 {
                visit(x, y - 1);
            }
            if y + 1 < h {
                visit(x, y + 1);
            }
        }
        if patch.len() > best.len() {
            best = patch;
        }
    }
    let mut map = Plane::filled(w, h, 0u8);
    for &at in &best {
        map.set(at % w, at / w, 255);
    }
    (best.len() as f64 * (s.mm_per_px / 10.0).powi(2), map)
}

pub(super) fn build_up(s: &Survey<'_>) -> Vec<Finding> {
    let ink = total_ink(s);
    let mut out = Vec::new();
    let heavy = ink.iter().filter(|&&t| f64::from(t) * 100.0 > LIMIT).count() as f64 / ink.len().max(1) as f64;
    let most = ink.iter().copied().fold(0.0f32, f32::max);
    if heavy > 0.01 {
        out.push(Finding {
            kind: Kind::BuildUp,
            severity: Severity::Caution,
            what: format!(
                "Ink piles up to {:.0} % on {:.0} % of the print: it will feel heavy, dry slowly and may crack.",
                most * 100.0,
                heavy * 100.0
            ),
            number: Number {
                label: "ink in one place".into(),
                value: f64::from(most) * 100.0,
                unit: "%",
                limit: LIMIT,
            },
            screens: Vec::new(),
            place: Place::of_map(s.map(|at| (f64::from(ink[at]) * 100.0 - LIMIT) / 100.0), s.mm_per_px),
            inputs: vec![
                Input::new("ink in one place", "coverage of all screens and hits", Basis::Screens),
                Input::new("limit", format!("{LIMIT:.0} % of a solid"), Basis::Assumed),
            ],
            mends: fewer_hits(s),
        });
    }
    let (cm2, map) = largest_patch(s, &ink, 1.9);
    if cm2 > PATCH_CM2 {
        out.push(Finding {
            kind: Kind::BuildUp,
            severity: Severity::Caution,
            what: format!("An unbroken patch of {cm2:.0} cm2 carries two full layers and more: no air passes, and it feels like a plate."),
            number: Number { label: "largest heavy patch".into(), value: cm2, unit: "cm2", limit: PATCH_CM2 },
            screens: Vec::new(),
            place: Place::of_map(map, s.mm_per_px),
            inputs: vec![
                Input::new("patch", "1.9 layers and more, unbroken", Basis::Screens),
                Input::new("limit", format!("{PATCH_CM2:.0} cm2"), Basis::Assumed),
            ],
            mends: fewer_hits(s),
        });
    }
    out
}

fn fewer_hits(s: &Survey<'_>) -> Vec<Mend> {
    s.screens
        .list
        .iter()
        .filter(|x| x.hits > 1)
        .map(|x| {
            Mend::one(
                format!("Print {} once instead of {} times", x.name, x.hits),
                Change::Edit { edit: Edit::Hits { screen: x.name.clone(), hits: 1 } },
            )
        })
        .collect()
}
