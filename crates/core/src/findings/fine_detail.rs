//! Strokes and gaps too fine for the mesh. A stroke has to be as wide as a dot that always holds (two
//! threads and one opening). A gap, such as a reversed line, loses the ink that creeps in from both
//! sides, and the strip of stencil that keeps it open has to bridge one thread and one opening; the
//! trade's rule of thumb is the same: a reversed line needs to be wider than a printed one (common
//! practice, no source). Only what no reading of the picture can save is counted: a stroke's core is
//! nearly solid and even its half-tones are too narrow.

use super::finding::{Basis, Finding, Input, Kind, Number, RiskArea, Severity};
use super::fix::{Change, Fix};
use super::inputs::{gain_input, mesh_input};
use super::thin::{Bits, bits, thin};
use crate::facts::{Survey, smallest_gap_mm, smallest_stroke_mm};
use crate::raster::{Plane, choke, spread};
use crate::tune::{Edit, edits};
use crate::units::{MM_PER_INCH, Mm};
use crate::usage::Mesh;
use crate::{Cancelled, Progress};

/// Length in mm of what is too fine that makes a caution, and a fault. Shorter than a hand's breadth
/// in all: stray pixels.
const CAUTION_MM: f64 = 100.0;
const FAULT_MM: f64 = 1000.0;

/// Most pixels of a box, for prints of very high resolution.
const MOST_PX: usize = 40;

/// What is too fine.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Fine {
    Strokes,
    Gaps,
}

pub(super) fn fine_detail(s: &Survey<'_>, progress: &Progress) -> Result<Vec<Finding>, Cancelled> {
    let mut out = Vec::new();
    for at in 0..s.len() {
        progress.step("fine detail", at as f32 / s.len() as f32)?;
        let (strokes, gaps) = thin_parts(s, at, &s.screens.list[at].coverage, s.job.run.mesh_of(s.name(at)));
        for (which, lost) in [(Fine::Strokes, strokes), (Fine::Gaps, gaps)] {
            if length_mm(s, &lost) >= CAUTION_MM {
                out.push(finding(s, at, which, &lost, progress)?);
            }
        }
    }
    Ok(out)
}

fn px_mm(s: &Survey<'_>) -> f64 {
    MM_PER_INCH / s.screens.ppi.get()
}

/// Side in pixels of the box that a part of this width has to hold. A slanted stroke holds a smaller
/// upright box than its width, so a fifth is allowed for; a line of one pixel holds no box of two
/// however it runs.
fn side_px(s: &Survey<'_>, mm: f64) -> usize {
    let px = mm / px_mm(s);
    let least = if px > 1.02 { 2 } else { 1 };
    ((px * 0.8).ceil() as usize).clamp(least, MOST_PX)
}

/// Length in mm of what is lost, if it were a pixel wide.
fn length_mm(s: &Survey<'_>, lost: &Bits) -> f64 {
    lost.count() as f64 * px_mm(s)
}

fn gap_mm(s: &Survey<'_>, at: usize, mesh: &Mesh) -> f64 {
    smallest_gap_mm(mesh, &s.job.press.gain, s.ruling(at))
}

/// Strokes and gaps of a plane that are too fine for a mesh.
fn thin_parts(s: &Survey<'_>, at: usize, plane: &Plane<u16>, mesh: &Mesh) -> (Bits, Bits) {
    let (solid, clear) = bits(plane);
    let strokes = thin(plane.width(), &solid, &clear, side_px(s, smallest_stroke_mm(mesh)));
    let gaps = thin(plane.width(), &clear, &solid, side_px(s, gap_mm(s, at, mesh)));
    (strokes, gaps)
}

fn finding(s: &Survey<'_>, at: usize, which: Fine, lost: &Bits, progress: &Progress) -> Result<Finding, Cancelled> {
    let (name, mesh, length) = (s.name(at), s.job.run.mesh_of(s.name(at)), length_mm(s, lost));
    let (stroke_mm, gap_mm) = (smallest_stroke_mm(mesh), gap_mm(s, at, mesh));
    let what = match which {
        Fine::Strokes => format!(
            "{name} has lines and points finer than {stroke_mm:.2} mm, which {} mesh cannot hold: about {length:.0} mm \
             of them.",
            mesh.name
        ),
        Fine::Gaps => format!(
            "{name} has reversed lines and gaps narrower than {gap_mm:.2} mm, which fill in on {} mesh: about \
             {length:.0} mm of them.",
            mesh.name
        ),
    };
    let label = if which == Fine::Strokes { "length of lines at risk" } else { "length of gaps at risk" };
    Ok(Finding {
        kind: Kind::FineDetail,
        severity: if length > FAULT_MM { Severity::Fault } else { Severity::Caution },
        what,
        number: Number { label: label.into(), value: length, unit: "mm", limit: CAUTION_MM },
        screens: vec![name.to_owned()],
        place: RiskArea::of_map(lost.map(s.block), s.mm_per_px),
        inputs: vec![
            mesh_input(mesh),
            gain_input(s),
            Input::new("finest line and gap", format!("{stroke_mm:.2} and {gap_mm:.2} mm"), Basis::Assumed),
        ],
        fixes: fixes(s, at, which, mesh, progress)?,
    })
}

/// A finer mesh for strokes; and the screen's edges moved by as little as opens a gap or thickens a
/// stroke, tried on the screen itself.
fn fixes(s: &Survey<'_>, at: usize, which: Fine, mesh: &Mesh, progress: &Progress) -> Result<Vec<Fix>, Cancelled> {
    let (name, plane) = (s.name(at).to_owned(), &s.screens.list[at].coverage);
    let mut out = Vec::new();
    let needed_mm = if which == Fine::Strokes { smallest_stroke_mm(mesh) } else { gap_mm(s, at, mesh) };
    let left = |parts: &(Bits, Bits)| {
        let (strokes, gaps) = (length_mm(s, &parts.0), length_mm(s, &parts.1));
        if which == Fine::Strokes { (strokes, gaps) } else { (gaps, strokes) }
    };
    let (_, others_now) = left(&thin_parts(s, at, plane, mesh));
    let helps = |parts: &(Bits, Bits)| {
        let (mine, others) = left(parts);
        mine < CAUTION_MM && others < others_now.max(CAUTION_MM)
    };
    if which == Fine::Strokes {
        let finer = (s.job.run.meshes_to_choose().into_iter())
            .filter(|m| m.threads_per_inch > mesh.threads_per_inch + 10.0)
            .find(|m| helps(&thin_parts(s, at, plane, m)));
        out.extend(finer.map(|finer| {
            let label = format!("{name} on {} mesh: holds {:.2} mm", finer.name, smallest_stroke_mm(finer));
            Fix::one(label, Change::Mesh { screen: name.clone(), mesh: finer.clone() })
        }));
    }
    // A line of a pixel needs so much on either side; thinner ones look the same.
    let least_mm = ((needed_mm - px_mm(s)) / 2.0).max(0.02);
    for more_mm in [0.0, 0.02, 0.05, 0.1] {
        progress.step("fine detail", at as f32 / s.len() as f32)?;
        let Ok(by_mm) = Mm::new(((least_mm + more_mm) * 100.0).ceil() / 100.0) else { continue };
        let by_px = by_mm.px(s.screens.ppi.get());
        let quiet = Progress::none();
        let moved = match which {
            Fine::Strokes => spread(plane, by_px, &quiet)?,
            Fine::Gaps => choke(plane, by_px, &quiet)?,
        };
        if helps(&thin_parts(s, at, &moved, mesh)) {
            let screen = name.clone();
            let (label, edit) = match which {
                Fine::Strokes => {
                    (format!("Spread {name} by {by_mm} mm: lines hold"), Edit::Spread(edits::Spread { screen, by_mm }))
                }
                Fine::Gaps => {
                    (format!("Choke {name} by {by_mm} mm: gaps stay open"), Edit::Choke(edits::Choke { screen, by_mm }))
                }
            };
            out.push(Fix::one(label, Change::Edit { edit }));
            break;
        }
    }
    Ok(out)
}
