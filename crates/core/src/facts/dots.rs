//! Dots that hold. A film dot needs threads to stand on: at two threads and one opening across it
//! always finds them, under one thread and one opening it often finds none (common practice, from
//! memory). What counts is the dot on the film.

use crate::halftone::DotShape;
use crate::units::Lpi;
use crate::usage::Mesh;

/// Film coverages, 0..=1, at which the dots of a screen start to hold on its mesh.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DotHold {
    /// Under this a dot is often lost.
    pub marginal: f64,
    /// From this on every dot holds.
    pub safe: f64,
}

impl DotHold {
    /// Round dots in a square cell of the ruling: their diameter grows with the tone.
    pub fn new(mesh: &Mesh, ruling: Lpi) -> Self {
        let area = |um: f64| Mesh::tone_of_dot(um, ruling);
        Self { marginal: area(mesh.marginal_dot_um()), safe: area(mesh.safe_dot_um()) }
    }

    /// Dots of a shape. Dots of one size hold at every tone or at none; too small to stand alone,
    /// they hold where they lie in clumps, from about a quarter of the area on (assumed).
    pub fn of_shape(mesh: &Mesh, ruling: Lpi, shape: DotShape) -> Self {
        let Some(size) = shape.size_mm() else { return Self::new(mesh, ruling) };
        match size.get() * 1000.0 {
            side if side >= mesh.safe_dot_um() => Self { marginal: 0.0, safe: 0.0 },
            side if side >= mesh.marginal_dot_um() => Self { marginal: 0.0, safe: CLUMPS },
            _ => Self { marginal: CLUMPS, safe: 2.0 * CLUMPS },
        }
    }

    /// Part of a film tone that holds: none under marginal, all from safe on.
    pub fn held(&self, film: f64) -> f64 {
        match film {
            film if film < self.marginal => 0.0,
            film if film >= self.safe => 1.0,
            film => (film - self.marginal) / (self.safe - self.marginal).max(1e-9),
        }
    }
}

/// Film coverage from which scattered dots touch their neighbours as a rule.
const CLUMPS: f64 = 0.25;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Mm;
    use approx::assert_abs_diff_eq;

    /// Trade notes (arithmetic on a published mesh row, 225 threads, 40 um thread, 73 um opening):
    /// safe 5.8, 8.6, 12 % and marginal 3.1, 4.7, 6.6 % at 45, 55, 65 lpi.
    #[test]
    fn limits_on_a_published_mesh() {
        let mesh = Mesh::named("225/40").unwrap();
        for (lpi, safe, marginal) in [(45.0, 5.8, 3.1), (55.0, 8.6, 4.7), (65.0, 12.0, 6.6)] {
            let limits = DotHold::new(&mesh, Lpi::new(lpi).unwrap());
            assert_abs_diff_eq!(limits.safe * 100.0, safe, epsilon = 0.06);
            assert_abs_diff_eq!(limits.marginal * 100.0, marginal, epsilon = 0.06);
        }
    }

    #[test]
    fn dots_of_one_size_hold_by_their_size_and_not_by_the_tone() {
        let (mesh, lpi) = (Mesh::named("225/40").unwrap(), Lpi::new(45.0).unwrap());
        let of = |size: f64| DotHold::of_shape(&mesh, lpi, DotShape::BlueNoise { size_mm: Mm::new(size).unwrap() });
        assert_eq!(of(0.20).held(0.01), 1.0);
        assert!(of(0.12).held(0.02) > 0.0 && of(0.12).held(0.02) < 0.5);
        assert_eq!(of(0.05).held(0.10), 0.0);
    }
}
