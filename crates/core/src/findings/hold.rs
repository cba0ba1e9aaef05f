//! What the findings on lost dots share: which dots hold, and what makes them hold.

use super::fix::{Change, Fix};
use crate::facts::{DotHold, INKED, Survey};
use crate::halftone::SmallDots;
use crate::ink::InkRole;
use crate::units::{Coverage, Mm};
use crate::usage::Mesh;

/// Limits of a screen's dots on its own mesh.
pub(super) fn hold(s: &Survey<'_>, at: usize) -> DotHold {
    let (ruling, _, shape) = s.job.film.of_screen(s.name(at));
    DotHold::of_shape(s.job.run.mesh_of(s.name(at)), ruling, shape)
}

/// The finest mesh that is proposed for a screen, in threads per inch: through a finer one a white
/// lays down too little to hide the fabric (supply-house page: 230 for a tonal base, 305 for tonal
/// colours).
pub(super) fn finest_threads(s: &Survey<'_>, at: usize) -> f64 {
    match s.screens.list[at].ink.role {
        InkRole::BaseWhite | InkRole::White => 230.0,
        _ => 305.0,
    }
}

/// Side of a dot that always holds on a mesh, up to the next hundredth of a millimetre.
pub(super) fn safe_size(mesh: &Mesh) -> Option<Mm> {
    Mm::new((mesh.safe_dot_um() / 10.0 - 1e-6).ceil() / 100.0).ok()
}

/// Films without dots that are too small: fewer whole ones, none, or all lifted to the smallest that often holds.
pub(super) fn smallest_dot(s: &Survey<'_>, screens: &[usize], limits: DotHold) -> Vec<Fix> {
    let limits_now = &s.job.film.limits;
    let mut fixes = Vec::new();
    if limits_now.below != SmallDots::Thin || limits_now.smallest.is_some() {
        fixes.push(Fix::one(
            "Print lighter tones with fewer dots, each as large as its mesh holds: every tone stays".to_owned(),
            Change::SmallestDot { smallest: None, below: SmallDots::Thin },
        ));
    }
    let up = Coverage::new((limits.marginal * 1000.0).ceil() / 1000.0).ok().filter(|c| c.get() < 0.25);
    let Some(smallest) = up else { return fixes };
    let pct = smallest.get() * 100.0;
    fixes.push(Fix::one(
        format!("Leave dots under {pct:.1} % off the films: tones end cleanly"),
        Change::SmallestDot { smallest: Some(smallest), below: SmallDots::Clip },
    ));
    // Where there is a trace of ink over much of the print, lifting it would make a veil.
    let trace = |at: &usize| s.mean(*at, |a| f64::from(u8::from(a > 0.0 && a < INKED)));
    if screens.iter().all(|at| trace(at) < 0.05) {
        fixes.push(Fix::one(
            format!(
                "Lift smaller film dots to {pct:.1} %: no tone drops out, and the lightest print at {:.0} %",
                s.gain.print(smallest.get() as f32) * 100.0
            ),
            Change::SmallestDot { smallest: Some(smallest), below: SmallDots::Lift },
        ));
    }
    fixes
}
