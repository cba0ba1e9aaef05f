//! The smallest strokes and gaps that a mesh prints, and how far an edge of ink creeps.

use crate::press::{DotGain, GainCurve};
use crate::units::{Lpi, MM_PER_INCH};
use crate::usage::Mesh;

/// Smallest stroke that survives on a mesh, in mm.
pub fn smallest_stroke_mm(mesh: &Mesh) -> f64 {
    mesh.safe_dot_um() / 1000.0
}

/// Smallest gap that survives, in mm: the creep of both edges, and one thread and one opening for the
/// strip of stencil to hold on and for something to be seen (assumed).
pub fn smallest_gap_mm(mesh: &Mesh, gain: &DotGain, ruling: Lpi) -> f64 {
    (2.0 * edge_growth_um(gain, ruling) + mesh.marginal_dot_um()) / 1000.0
}

/// How far an edge creeps in micrometres: as set, or read from the curve at 50 %.
pub fn edge_growth_um(gain: &DotGain, ruling: Lpi) -> f64 {
    match gain {
        DotGain::Edge { growth_um } => *growth_um,
        other => growth_of_curve(&other.curve(ruling)) * MM_PER_INCH * 1000.0 / ruling.get(),
    }
}

/// Edge growth in pitches that gives the gain of a curve at one half: `2 w sqrt(pi / 2)`.
fn growth_of_curve(curve: &GainCurve) -> f64 {
    (f64::from(curve.print(0.5)) - 0.5).max(0.0) / (2.0 * (std::f64::consts::PI / 2.0).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Default gain, 28 points at 50 % and 45 lpi: an edge creeps 63 um.
    #[test]
    fn edge_growth_follows_the_gain() {
        let growth = edge_growth_um(&DotGain::default(), Lpi::new(45.0).unwrap());
        assert!((growth - 63.0).abs() < 0.5, "{growth}");
        assert_eq!(edge_growth_um(&DotGain::Edge { growth_um: 40.0 }, Lpi::new(45.0).unwrap()), 40.0);
    }
}
