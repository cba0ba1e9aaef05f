//! Dots that will not hold. What counts is the dot on the film, so gain compensation, which thins
//! highlights on the film, moves the limit up on the shirt. Every photograph has such dots; they
//! are reported where losing them shows on the shirt, or where a screen holds little else.

use crate::screens::ScreenName;
use rayon::prelude::*;

use super::finding::{Basis, Finding, Input, Kind, Number, RiskArea, Severity};
use super::fix::{Change, Fix, drops};
use super::hold::{finest_threads, hold, safe_size, smallest_dot};
use super::inputs::{dots_input, gain_input, mesh_input, ruling_input};
use super::words::{list_of, plural};
use crate::color::{ciede2000, lab_from_linear};
use crate::facts::{BINS, DotHold, HIGHLIGHT_MM2, INKED, Survey, bin_coverage};
use crate::halftone::DotShape;
use crate::units::Lpi;
use crate::usage::Mesh;

/// CIEDE2000 at which a lost tone shows in a picture (assumed).
const SHOWS: f32 = 4.0;

/// Light that the cloth's surface adds to every tone where a shirt is looked at (assumed): it hides the
/// darkest tones on a dark garment, which are lost and missed by nobody.
const SURFACE: f32 = 0.01;

/// Shares of the print on which lost dots show that make a caution and a fault (assumed).
const SHOWN_CAUTION: f64 = 0.08;
const SHOWN_FAULT: f64 = 0.30;

/// Threads to a line of dots that a mesh maker recommends at the least (Sefar, questions about half-tone
/// printing: 2.5, 3.75 or 5 to 1). On a coarser mesh lost dots that show at all are a fault.
const LEAST_THREADS_PER_LINE: f64 = 2.5;

/// Share of a screen's area at risk from which it is said to hold little else.
const MOSTLY: f64 = 0.70;

/// Share of the print up to which a screen may show and still be called idle, if that is also less than
/// a highlight: a small solid is what a screen may be for.
const IDLE: f64 = 0.02;

fn shape(s: &Survey<'_>, at: usize) -> DotShape {
    s.job.film.of_screen(s.name(at)).2
}

/// Share of a screen's inked area whose film dots lie under `limit`. What a film leaves out on
/// purpose is not at risk.
fn share_under(s: &Survey<'_>, at: usize, limit: f64) -> f64 {
    let inked = s.inked(at);
    if inked == 0.0 {
        return 0.0;
    }
    let under = |film: f64| film > 0.0 && film < limit;
    s.mean(at, |a| f64::from(u8::from(a >= INKED && under(s.dot(at, a))))) / inked
}

/// Share of the print on which it shows that a screen keeps only `kept` of each tone.
fn shown_share(s: &Survey<'_>, at: usize, kept: impl Fn(f64) -> f64 + Sync) -> f64 {
    let blocks = s.every(12_000);
    let table: Vec<f32> = (0..BINS).map(|bin| kept(bin_coverage(bin)) as f32).collect();
    let shown = blocks
        .par_iter()
        .filter(|&&block| {
            let here = s.at(at, block);
            let kept = table[(here * (BINS - 1) as f64).round() as usize];
            if here < INKED || kept >= 1.0 {
                return false;
            }
            let mut a = vec![0.0f32; s.len()];
            s.coverages(block, &mut a);
            let look = |a: &[f32]| lab_from_linear(s.optics.reflectance(a).map(|r| (r + SURFACE).min(1.0)));
            let meant = look(&a);
            a[at] *= kept;
            ciede2000(meant, look(&a)) > SHOWS
        })
        .count();
    shown as f64 / blocks.len().max(1) as f64
}

/// The same for a screen on a mesh at a ruling, in dots of a shape.
fn shown_on(s: &Survey<'_>, at: usize, mesh: &Mesh, ruling: Lpi, shape: DotShape) -> f64 {
    let limits = DotHold::of_shape(mesh, ruling, shape);
    let gain = s.job.press.gain.curve(ruling);
    let dots = s.job.film.limits.of_screen(limits.safe, shape);
    shown_share(s, at, |a| {
        let film = f64::from(dots.dot(s.film_with(&dots, a, &gain) as f32));
        // Left out by the film itself: that is decided, not lost.
        if film <= 0.0 { 1.0 } else { limits.held(film) }
    })
}

/// One screen with weak dots.
struct Weak {
    at: usize,
    limits: DotHold,
    /// Share of its inked area under marginal.
    lost: f64,
    /// Share of the print on which that shows.
    shown: f64,
}

/// `tinted` are screens with a flat tint that plainly shows: those are not idle.
pub(super) fn lost_dots(s: &Survey<'_>, tinted: &[usize]) -> Vec<Finding> {
    let mut weak: Vec<Weak> = (0..s.len())
        .filter(|&at| !s.is_empty(at))
        .map(|at| {
            let (mesh, ruling, limits) = (s.job.run.mesh_of(s.name(at)), s.ruling(at), hold(s, at));
            let lost = share_under(s, at, limits.marginal);
            // A few stray tones on a hundredth of the print matter to nobody.
            let shown = if lost * s.inked(at) < 0.005 { 0.0 } else { shown_on(s, at, mesh, ruling, shape(s, at)) };
            Weak { at, limits, lost, shown }
        })
        .collect();
    let mut out = Vec::new();
    let is_idle = |w: &Weak| {
        let weak = w.lost >= MOSTLY && w.shown < SHOWN_CAUTION && !tinted.contains(&w.at);
        let shows = |w: &Weak| shown_share(s, w.at, |_| 0.0);
        weak && shows(w) < IDLE.min(HIGHLIGHT_MM2 / s.print_mm2().max(1e-9))
    };
    out.extend(idle(s, &weak.iter().filter(|w| is_idle(w)).collect::<Vec<_>>()));
    weak.retain(|w| w.shown >= SHOWN_CAUTION);
    weak.sort_by(|a, b| b.shown.total_cmp(&a.shown));
    // Screens on one mesh in one kind of dot share a finding and its fixes.
    while let Some(worst) = weak.first() {
        let key = |w: &Weak| {
            let size = shape(s, w.at).size_mm().map(|size| size.get().to_bits());
            (s.job.run.mesh_of(s.name(w.at)).name.clone(), s.ruling(w.at).get().to_bits(), size)
        };
        let same = key(worst);
        let (group, rest): (Vec<Weak>, Vec<Weak>) = weak.into_iter().partition(|w| key(w) == same);
        out.push(breaking(s, &group));
        weak = rest;
    }
    out
}

/// Screens that hold little but dots that will be lost, and that nobody would miss.
fn idle(s: &Survey<'_>, weak: &[&Weak]) -> Option<Finding> {
    let first = weak.first()?;
    let names: Vec<ScreenName> = weak.iter().map(|w| s.name(w.at).to_owned()).collect();
    let (mesh, count) = (s.job.run.mesh_of(&names[0]), names.len());
    let lost = weak.iter().map(|w| w.lost).fold(0.0, f64::max) * 100.0;
    Some(Finding {
        kind: Kind::LostDots,
        severity: Severity::Caution,
        what: format!(
            "{} {} almost nothing but dots too small for {} mesh at {} lpi, and the print looks the same without {}.",
            list_of(&names, "and"),
            plural(count, "prints", "print"),
            mesh.name,
            s.ruling(first.at),
            plural(count, "it", "any one of them")
        ),
        number: Number { label: "share of its area at risk".into(), value: lost, unit: "%", limit: MOSTLY * 100.0 },
        screens: names.clone(),
        place: RiskArea::of_map(s.map(|block| s.at(first.at, block) * 5.0), s.mm_per_px),
        inputs: vec![
            mesh_input(mesh),
            ruling_input(s, first.at),
            gain_input(s),
            Input::new(
                "looks the same",
                format!("shows on less than {:.0} % of the print and {HIGHLIGHT_MM2:.0} mm2", IDLE * 100.0),
                Basis::Assumed,
            ),
        ],
        fixes: drops(s.len(), &names),
    })
}

/// Screens whose lost dots show.
fn breaking(s: &Survey<'_>, group: &[Weak]) -> Finding {
    let worst = &group[0];
    let (mesh, ruling, limits) = (s.job.run.mesh_of(s.name(worst.at)), s.ruling(worst.at), worst.limits);
    let names: Vec<ScreenName> = group.iter().map(|w| s.name(w.at).to_owned()).collect();
    let shown = format!("visibly on {:.0} % of the print", worst.shown * 100.0);
    // The tone on the shirt whose film dot is just marginal.
    let on_shirt = (0..BINS).map(bin_coverage).find(|&a| s.dot(worst.at, a) >= limits.marginal).unwrap_or(1.0);
    let what = match shape(s, worst.at).size_mm() {
        None => format!(
            "Tones of {} under {:.0} % on the shirt need film dots under {:.1} %, too small to hold on {} mesh at \
             {ruling} lpi: they break up or drop out, {shown}.",
            list_of(&names, "and"),
            on_shirt * 100.0,
            limits.marginal * 100.0,
            mesh.name
        ),
        Some(size) => format!(
            "The {size} mm dots of {} are too small to hold on {} mesh, which needs {:.2} mm: light tones break up or \
             drop out, {shown}.",
            list_of(&names, "and"),
            mesh.name,
            mesh.safe_dot_um() / 1000.0
        ),
    };
    let too_coarse = s.on_grid(worst.at) && threads_per_line(mesh, ruling) < LEAST_THREADS_PER_LINE;
    Finding {
        kind: Kind::LostDots,
        severity: if worst.shown >= SHOWN_FAULT || too_coarse { Severity::Fault } else { Severity::Caution },
        what,
        number: Number {
            label: "share of the print that shows lost dots".into(),
            value: worst.shown * 100.0,
            unit: "%",
            limit: SHOWN_CAUTION * 100.0,
        },
        screens: names,
        place: risk_area(s, group),
        inputs: breaking_inputs(s, group, mesh),
        fixes: fixes(s, group, mesh, ruling),
    }
}

fn threads_per_line(mesh: &Mesh, ruling: Lpi) -> f64 {
    mesh.threads_per_inch / ruling.get()
}

fn risk_area(s: &Survey<'_>, group: &[Weak]) -> Option<RiskArea> {
    let risk = |w: &Weak, block: usize| {
        let a = s.at(w.at, block);
        let film = s.dot(w.at, a);
        if a < INKED || film <= 0.0 { 0.0 } else { 1.0 - w.limits.held(film) }
    };
    RiskArea::of_map(s.map(|block| group.iter().map(|w| risk(w, block)).fold(0.0, f64::max)), s.mm_per_px)
}

fn breaking_inputs(s: &Survey<'_>, group: &[Weak], mesh: &Mesh) -> Vec<Input> {
    let worst = &group[0];
    let each: Vec<String> = group.iter().map(|w| format!("{} {:.0} %", s.name(w.at), w.shown * 100.0)).collect();
    let mut inputs = vec![mesh_input(mesh), ruling_input(s, worst.at), gain_input(s), dots_input(mesh)];
    if s.on_grid(worst.at) {
        let ratio = threads_per_line(mesh, s.ruling(worst.at));
        inputs.push(Input::new(
            "threads per line",
            format!("{ratio:.1}; {LEAST_THREADS_PER_LINE} and more are usual"),
            Basis::Published,
        ));
    }
    inputs.push(Input::new(
        "at risk",
        format!(
            "{:.0} % of {}'s area often lost, {:.0} % not sure to hold; shows (dE 2000 over {SHOWS:.0}) on {} of the print",
            worst.lost * 100.0,
            s.name(worst.at),
            share_under(s, worst.at, worst.limits.safe) * 100.0,
            each.join(", ")
        ),
        Basis::Screens,
    ));
    inputs
}

/// Finer meshes of the shelf that suit every one of these screens, coarse to fine.
fn finer_meshes<'a>(s: &'a Survey<'_>, group: &'a [Weak], mesh: &'a Mesh) -> impl Iterator<Item = &'a Mesh> + 'a {
    (s.job.run.meshes_to_choose().into_iter())
        .filter(|m| m.threads_per_inch > mesh.threads_per_inch + 10.0)
        .filter(|m| group.iter().all(|w| m.threads_per_inch <= finest_threads(s, w.at)))
}

fn fixes(s: &Survey<'_>, group: &[Weak], mesh: &Mesh, ruling: Lpi) -> Vec<Fix> {
    let (shown, dot, mut fixes) = (group[0].shown, shape(s, group[0].at), Vec::new());
    let worst_on =
        |mesh: &Mesh, ruling: Lpi| group.iter().map(|w| shown_on(s, w.at, mesh, ruling, dot)).fold(0.0, f64::max);
    let names: Vec<ScreenName> = group.iter().map(|w| s.name(w.at).to_owned()).collect();
    let instead = |after: f64| format!("lost dots show on {:.0} % instead of {:.0} %", after * 100.0, shown * 100.0);
    let finer: Vec<(&Mesh, f64)> = finer_meshes(s, group, mesh).map(|m| (m, worst_on(m, ruling))).collect();
    let helps = |limit: f64| finer.iter().find(|(_, after)| *after < limit);
    if let Some((finer, after)) = helps(SHOWN_CAUTION).or_else(|| helps(shown * 0.6)) {
        fixes.push(Fix {
            label: format!("{} on {} mesh: {}", list_of(&names, "and"), finer.name, instead(*after)),
            changes: (names.iter())
                .map(|screen| Change::Mesh { screen: screen.clone(), mesh: (*finer).clone() })
                .collect(),
        });
    }
    if dot.size_mm().is_some() {
        fixes.extend(larger_dots(&names, mesh, dot));
        return fixes;
    }
    for coarser in [55.0, 45.0, 40.0, 35.0].into_iter().filter(|lpi| *lpi < ruling.get()) {
        let Ok(coarser) = Lpi::new(coarser) else { continue };
        let after = worst_on(mesh, coarser);
        if after < SHOWN_CAUTION || after < shown * 0.6 {
            fixes.push(Fix::one(
                format!("Change the ruling to {coarser} lpi: {}", instead(after)),
                Change::Ruling { ruling: coarser },
            ));
            break;
        }
    }
    fixes.extend(smallest_dot(s, &group.iter().map(|w| w.at).collect::<Vec<_>>(), group[0].limits));
    fixes
}

/// Scattered dots large enough for the mesh.
fn larger_dots(names: &[ScreenName], mesh: &Mesh, now: DotShape) -> Option<Fix> {
    let size_mm = safe_size(mesh)?;
    let dot = match now {
        DotShape::Diffusion { .. } => DotShape::Diffusion { size_mm },
        DotShape::Index { .. } => DotShape::Index { size_mm },
        _ => DotShape::BlueNoise { size_mm },
    };
    Some(Fix::one(
        format!("{} in dots of {size_mm} mm: every dot holds", list_of(names, "and")),
        Change::Dot { screens: names.to_vec(), dot },
    ))
}
