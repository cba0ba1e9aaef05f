//! A flat tint that drops out. One light tone over much of the print is not a highlight that ends a
//! little early: its edge and the whole area go, and the eye compares it with bare fabric beside it.
//! So it is reported from a smaller colour difference on than the lost dots of a picture.

use super::finding::{Basis, Finding, Input, Kind, Number, RiskArea, Severity};
use super::fix::{Change, Fix, drops};
use super::hold::{finest_threads, hold, safe_size, smallest_dot};
use super::inputs::{dots_input, gain_input, mesh_input, ruling_input};
use crate::color::{ciede2000, lab_from_linear};
use crate::facts::{DotHold, HIGHLIGHT_MM2, INKED, Survey};
use crate::halftone::DotShape;
use crate::units::Lpi;
use crate::usage::Mesh;

/// Shares of the print over which a lost tint makes a caution and a fault (assumed).
const AREA_CAUTION: f64 = 0.10;
const AREA_FAULT: f64 = 0.30;

/// CIEDE2000 between the tint and what is left without it. Half of all observers see 0.8 between two
/// fields side by side (Paravina and others, 2015, taken up in ISO/TR 28642:2016; from memory); under
/// 0.5 nobody does (common practice, no source).
const SHOWS: f64 = 0.5;
const SHOWS_PLAINLY: f64 = 0.8;

/// A tint's neighbours differ by no more than this, in coverage (assumed).
const FLAT: f64 = 0.004;

/// A tint keeps within this of its middle tone, in coverage (assumed).
const SPREAD: f64 = 0.006;

/// A flat tint on a screen.
pub(super) struct Tint {
    at: usize,
    /// Middle tone, coverage on the shirt.
    tone: f64,
    /// Its blocks.
    blocks: Vec<usize>,
    /// Share of the print.
    share: f64,
    /// Mean CIEDE2000 between the print with and without it.
    shift: f64,
}

/// Tints over much of the print that will drop out, at most one a screen.
pub(super) fn lost_tints(s: &Survey<'_>) -> Vec<Tint> {
    // A calibration print has its light patches to be measured.
    let screens = if s.job.run.calibration { 0..0 } else { 0..s.len() };
    screens
        .filter(|&at| !s.is_empty(at))
        .filter_map(|at| tint(s, at))
        .filter(|tint| tint.share >= AREA_CAUTION && tint.shift >= SHOWS)
        .collect()
}

/// Screens whose tint plainly shows.
pub(super) fn plainly_tinted(tints: &[Tint]) -> Vec<usize> {
    tints.iter().filter(|tint| tint.shift >= SHOWS_PLAINLY).map(|tint| tint.at).collect()
}

/// Findings on tints, for screens that `lost_dots` does not name already.
pub(super) fn lost_tint(s: &Survey<'_>, tints: &[Tint], lost_dots: &[Finding]) -> Vec<Finding> {
    let named = |at: usize| lost_dots.iter().any(|f| f.screens.iter().any(|name| name == s.name(at)));
    tints.iter().filter(|tint| !named(tint.at)).map(|tint| finding(s, tint)).collect()
}

/// The largest flat tint of a screen whose dots are often lost.
fn tint(s: &Survey<'_>, at: usize) -> Option<Tint> {
    let limits = hold(s, at);
    let lost = |a: f64| a >= INKED && s.dot(at, a) > 0.0 && s.dot(at, a) < limits.marginal;
    let plane = &s.small[at];
    let (w, h) = (plane.width(), plane.height());
    let flat = |block: usize| {
        let (x, y, here) = (block % w, block / w, s.at(at, block));
        let near = |x: usize, y: usize| (s.at(at, y * w + x) - here).abs() <= FLAT;
        lost(here) && (x + 1 == w || near(x + 1, y)) && (y + 1 == h || near(x, y + 1))
    };
    let flat: Vec<usize> = (0..w * h).filter(|&block| flat(block)).collect();
    // The tone with most blocks close to it.
    let mut tones: Vec<f64> = flat.iter().map(|&block| s.at(at, block)).collect();
    tones.sort_by(f64::total_cmp);
    let reach = |from: usize| tones.partition_point(|&t| t <= tones[from] + 2.0 * SPREAD) - from;
    let step = (tones.len() / 2000).max(1);
    let from = (0..tones.len()).step_by(step).max_by_key(|&from| reach(from))?;
    let tone = tones[from + reach(from) / 2];
    let blocks: Vec<usize> = flat.into_iter().filter(|&block| (s.at(at, block) - tone).abs() <= 2.0 * SPREAD).collect();
    let share = blocks.len() as f64 / s.blocks().max(1) as f64;
    let shift = shift_without(s, at, &blocks);
    Some(Tint { at, tone, blocks, share, shift })
}

/// Mean CIEDE2000 between the print and the print without this screen, on some of the blocks.
fn shift_without(s: &Survey<'_>, at: usize, blocks: &[usize]) -> f64 {
    let mut a = vec![0.0f32; s.len()];
    let step = blocks.len().div_ceil(500).max(1);
    let shifts = blocks.iter().step_by(step).map(|&block| {
        s.coverages(block, &mut a);
        let with = lab_from_linear(s.optics.reflectance(&a));
        a[at] = 0.0;
        f64::from(ciede2000(with, lab_from_linear(s.optics.reflectance(&a))))
    });
    shifts.sum::<f64>() / blocks.len().div_ceil(step).max(1) as f64
}

fn finding(s: &Survey<'_>, tint: &Tint) -> Finding {
    let (at, name, mesh) = (tint.at, s.name(tint.at), s.job.run.mesh_of(s.name(tint.at)));
    let (w, h) = (s.small[at].width(), s.small[at].height());
    let mut map = crate::raster::Plane::filled(w, h, 0u8);
    tint.blocks.iter().for_each(|&block| map.set(block % w, block / w, 255));
    let dots = match s.on_grid(at) {
        true => format!(
            "its film dots of {:.1} % are too small for {} mesh at {} lpi",
            s.film(at, tint.tone) * 100.0,
            mesh.name,
            s.ruling(at)
        ),
        false => format!("its dots are too small for {} mesh", mesh.name),
    };
    let plain = tint.share >= AREA_FAULT && tint.shift >= SHOWS_PLAINLY;
    Finding {
        kind: Kind::LostDots,
        severity: if plain { Severity::Fault } else { Severity::Caution },
        what: format!(
            "{name} has a flat {:.0} % tint over {:.0} % of the print that will drop out: {dots}.",
            tint.tone * 100.0,
            tint.share * 100.0
        ),
        number: Number {
            label: "share of the print that loses its tint".into(),
            value: tint.share * 100.0,
            unit: "%",
            limit: AREA_CAUTION * 100.0,
        },
        screens: vec![name.to_owned()],
        place: RiskArea::of_map(map, s.mm_per_px),
        inputs: vec![
            mesh_input(mesh),
            ruling_input(s, at),
            gain_input(s),
            dots_input(mesh),
            Input::new(
                "colour difference without it",
                format!("dE 2000 of {:.1}; shows from {SHOWS} on a large area", tint.shift),
                Basis::Assumed,
            ),
        ],
        fixes: fixes(s, tint, mesh),
    }
}

/// Another mesh or ruling on which the tint's dots hold, scattered dots, or films without it.
fn fixes(s: &Survey<'_>, tint: &Tint, mesh: &Mesh) -> Vec<Fix> {
    let (at, ruling, mut out) = (tint.at, s.ruling(tint.at), Vec::new());
    let name = s.name(at).to_owned();
    let holds = |mesh: &Mesh, ruling: Lpi| {
        let hold = DotHold::new(mesh, ruling);
        let dots = s.job.film.limits.of_screen(hold.safe, s.job.film.of_screen(s.name(at)).2);
        let film = s.film_with(&dots, tint.tone, &s.job.press.gain.curve(ruling));
        f64::from(dots.dot(film as f32)) >= hold.marginal
    };
    if s.on_grid(at) {
        let finer = s.job.run.meshes_to_choose().into_iter().find(|m| {
            m.threads_per_inch > mesh.threads_per_inch
                && m.threads_per_inch <= finest_threads(s, at)
                && holds(m, ruling)
        });
        out.extend(finer.map(|finer| {
            let change = Change::Mesh { screen: name.clone(), mesh: finer.clone() };
            Fix::one(format!("{name} on {} mesh: the tint holds", finer.name), change)
        }));
        let coarser = [55.0, 45.0, 40.0, 35.0].into_iter().filter(|lpi| *lpi < ruling.get());
        let coarser = coarser.filter_map(|lpi| Lpi::new(lpi).ok()).find(|lpi| holds(mesh, *lpi));
        out.extend(coarser.map(|ruling| {
            Fix::one(format!("Change the ruling to {ruling} lpi: the tint holds"), Change::Ruling { ruling })
        }));
    }
    if let Some(size_mm) = safe_size(mesh) {
        out.push(Fix::one(
            format!("{name} in scattered dots of {size_mm} mm: fewer dots, and every one holds"),
            Change::Dot { screens: vec![name.clone()], dot: DotShape::BlueNoise { size_mm } },
        ));
    }
    if s.on_grid(at) {
        // Lifted dots keep the tint; left out, it is gone, if cleanly. So that comes last.
        out.extend(smallest_dot(s, &[at], hold(s, at)).into_iter().rev());
    }
    // A screen that holds nothing but the tint can go with it.
    if s.area_mm2(at, tint.tone + 2.0 * SPREAD) < HIGHLIGHT_MM2 {
        out.extend(drops(s.len(), &[name]));
    }
    out
}
