//! Gaps and fringes when screens are out of register by as much as the job expects.

use super::finding::{Basis, Finding, Input, Kind, Number, RiskArea, Severity};
use super::fix::{Change, Fix};
use super::words::list_of;
use crate::color::lab_from_linear;
use crate::facts::{Altered, Fringe, Register, SHOWS, SHOWS_MM, Survey, TILES, fringes};
use crate::ink::InkRole;
use crate::screens::ScreenName;
use crate::tune::{Edit, edits};
use crate::units::Mm;
use crate::{Cancelled, Progress};

/// Length of fringe in mm that makes a fault in flat art (assumed); from `SHOWS_MM` on it is a caution. The
/// edges of a picture are soft, and no trap can be made in them.
const FAULT_MM: f64 = 80.0;

/// Length of glaring fringe in mm that makes a fault in any art (assumed). A few pixels that glare, as where
/// a picture has its sharpest corner, are no line that anybody sees.
const GLARING_MM: f64 = 10.0;

/// Findings at the register that the job expects: bases one by one, all colours together.
pub(super) fn registration(s: &Survey<'_>, found: &Register, progress: &Progress) -> Result<Vec<Finding>, Cancelled> {
    let role = |f: &Fringe| s.screens.list[f.screen].ink.role;
    let loud: Vec<&Fringe> = found.expected.iter().filter(|f| f.length_mm >= SHOWS_MM).collect();
    let (bases, mut colors): (Vec<&Fringe>, Vec<&Fringe>) =
        loud.into_iter().partition(|f| role(f) == InkRole::BaseWhite);
    let mut out = Vec::new();
    for base in &bases {
        out.push(finding(s, found, &[base], progress)?);
    }
    // What shows when a colour moves over an unchoked base is that base: one finding is enough.
    if !bases.is_empty() {
        colors.retain(|f| f.length_mm > bases.iter().map(|b| b.length_mm).fold(0.0, f64::max) * 1.3);
    }
    colors.sort_by(|a, b| b.length_mm.total_cmp(&a.length_mm));
    if !colors.is_empty() {
        out.push(finding(s, found, &colors, progress)?);
    }
    Ok(out)
}

fn finding(s: &Survey<'_>, found: &Register, group: &[&Fringe], progress: &Progress) -> Result<Finding, Cancelled> {
    let worst = group[0];
    let shift_mm = s.job.run.register_mm.get();
    let base = s.screens.list[worst.screen].ink.role == InkRole::BaseWhite;
    let names: Vec<ScreenName> = group.iter().map(|f| s.name(f.screen).to_owned()).collect();
    let picture = group.iter().all(|f| s.is_picture(f.screen));
    let glaring_mm = group.iter().map(|f| f.glaring_mm).fold(0.0, f64::max);
    let strongest = group.iter().map(|f| f.strongest).fold(0.0, f64::max);
    let first = group.iter().filter_map(|f| found.first_mm[f.screen]).fold(f64::INFINITY, f64::min);
    let mut map = worst.map.clone();
    for fringe in group {
        map.data_mut().iter_mut().zip(fringe.map.data()).for_each(|(a, &b)| *a = (*a).max(b));
    }
    Ok(Finding {
        kind: Kind::Registration,
        severity: if glaring_mm >= GLARING_MM || (worst.length_mm >= FAULT_MM && !picture) {
            Severity::Fault
        } else {
            Severity::Caution
        },
        what: format!(
            "If {} is {shift_mm:.2} mm out of register, {} along at least {:.0} mm of edges, {:.2} mm wide{}.",
            list_of(&names, "or"),
            if base { "white peeks out" } else { "a gap or fringe shows" },
            worst.length_mm,
            worst.width_mm,
            if first.is_finite() && first < shift_mm - 1e-6 {
                format!("; it starts to show at {first:.1} mm")
            } else {
                String::new()
            }
        ),
        number: Number { label: "length of fringe".into(), value: worst.length_mm, unit: "mm", limit: SHOWS_MM },
        screens: names,
        place: RiskArea::of_map(map, s.mm_per_px),
        inputs: vec![
            Input::new("register", format!("{shift_mm:.2} mm each way"), Basis::Assumed),
            Input::new(
                "shows",
                format!("from {SHOWS:.0} in lightness beyond what is near it; strongest {strongest:.0}"),
                Basis::Assumed,
            ),
            Input::new("checked", format!("up to {TILES} parts of the print with the strongest edges"), Basis::Screens),
        ],
        fixes: fixes(s, &found.tiles, group, base, progress)?,
    })
}

/// A base is choked behind its colours, a colour is spread into its neighbours, the lightest
/// first. Each is tried on the same tiles with the same shift; only what hides the fringe, or
/// most of it, is offered.
fn fixes(
    s: &Survey<'_>,
    tiles: &[(usize, usize)],
    group: &[&Fringe],
    base: bool,
    progress: &Progress,
) -> Result<Vec<Fix>, Cancelled> {
    let shift_mm = s.job.run.register_mm.get();
    let now = group[0].length_mm;
    let shown: Vec<usize> = group.iter().map(|f| f.screen).collect();
    let mut tries: Vec<usize> = shown.iter().copied().take(4).collect();
    let light = |at: usize| lab_from_linear(s.screens.list[at].ink.reflectance_over_white()).l;
    tries.sort_by(|&a, &b| light(b).total_cmp(&light(a)));
    let mut found: Vec<(f64, Fix)> = Vec::new();
    for at in tries {
        // Two that hide it are enough to choose from.
        if found.iter().filter(|(left, _)| *left < SHOWS_MM).count() == 2 {
            break;
        }
        for more in [0.0, 0.1, 0.2] {
            let Ok(by_mm) = Mm::new(((shift_mm + more) * 100.0).round() / 100.0) else { continue };
            let alter = Altered { screen: at, by_mm: if base { -by_mm.get() } else { by_mm.get() } };
            let after = fringes(s, tiles, &[shift_mm], &shown, Some(alter), progress)?;
            let left = after[0].iter().map(|f| f.length_mm).fold(0.0, f64::max);
            if left >= SHOWS_MM && (more < 0.2 || left > now * 0.5) {
                continue;
            }
            let screen = s.name(at).to_owned();
            let does = if left < SHOWS_MM {
                format!("hides it up to {shift_mm:.2} mm")
            } else {
                format!("{left:.0} mm of it left instead of {now:.0} mm")
            };
            let (word, edit) = if base {
                ("Choke", Edit::Choke(edits::Choke { screen: screen.clone(), by_mm }))
            } else {
                ("Spread", Edit::Spread(edits::Spread { screen: screen.clone(), by_mm }))
            };
            found.push((left, Fix::one(format!("{word} {screen} by {by_mm} mm: {does}"), Change::Edit { edit })));
            break;
        }
    }
    found.sort_by_key(|(left, _)| *left >= SHOWS_MM);
    Ok(found.into_iter().map(|(_, fix)| fix).take(2).collect())
}
