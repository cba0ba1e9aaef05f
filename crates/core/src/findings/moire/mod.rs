//! Moire. Threads of the mesh, dots of a halftone and loops of a knit are lattices; what the eye
//! sees is the difference of two of their harmonics when it falls to a low frequency. Low-order
//! vectors of both lattices are tried and weighed by how strong those harmonics are, since ratio
//! rules of thumb miss coarse beats: 55 lpi at 45 degrees on 156 mesh has a ratio of 2.8, and its
//! (2, 2) harmonic lies 0.44 per inch from the threads, a band of 58 mm. Method: vector sums in
//! the frequency plane (Amidror, "The Theory of the Moire Phenomenon").

mod knit;
mod lattice;
mod mesh;
mod screens;

pub use knit::knit_beats;
pub use lattice::{Beat, Tones, worst_beat};
pub use mesh::{MESH_VECTORS, mesh_beats};
pub use screens::screen_beats;

use super::finding::{Basis, Finding, Input, Number};
use super::survey::{BINS, Survey, bin_coverage};
use crate::units::{Lpi, MM_PER_INCH};

/// Beats of every screen with its mesh, with other screens, and with the garment's knit.
pub(super) fn moire(s: &Survey<'_>) -> Vec<Finding> {
    let mut out = mesh::with_mesh(s);
    out.extend(screens::between_screens(s));
    out.extend(knit::with_knit(s));
    out
}

/// Share of the print on which a screen must have tones before a beat of its dots is spoken of.
const TONAL: f64 = 0.02;

/// Whether a screen has dots on a grid, and tones enough for them to be seen.
fn has_dots(s: &Survey<'_>, at: usize) -> bool {
    s.on_grid(at) && s.tonal(at) >= TONAL
}

/// Film tones of a screen, for the swing of its harmonics.
pub(super) fn tones(s: &Survey<'_>, at: usize) -> Tones {
    let total: u64 = s.histograms[at].iter().sum::<u64>().max(1);
    Tones::binned((0..BINS).map(|bin| (s.film(bin_coverage(bin)), s.histograms[at][bin] as f64 / total as f64)))
}

/// The width of a band as the number of a finding.
fn band(beat: &Beat, ruling: Lpi) -> Number {
    Number { label: "width of a band".into(), value: beat.period_mm(), unit: "mm", limit: texture_mm(ruling) }
}

/// What makes a beat visible, as an input.
fn visible() -> Input {
    Input::new("visible", "wider than four dots and 2 mm, ink swings by more than 2 %", Basis::Assumed)
}

/// Up to this width a band is texture.
fn texture_mm(ruling: Lpi) -> f64 {
    (4.0 * MM_PER_INCH / ruling.get()).max(2.0)
}

/// Whether a finding of these words is there already: then the screen joins it.
fn joined(out: &mut [Finding], what: &str, screen: &str) -> bool {
    let same = out.iter_mut().find(|f| f.what == what);
    same.map(|f| f.screens.push(screen.to_owned())).is_some()
}
