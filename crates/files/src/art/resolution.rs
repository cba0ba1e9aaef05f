//! The file's own resolution, or a default where it states none or nonsense.

use strikeoff_core::units::Ppi;

/// Taken where a file states no resolution: the reference pixel of the web, 96 to the inch,
/// from where most such files come.
pub(super) const DEFAULT_PPI: f64 = 96.0;

/// Keeps what a file may sensibly state; `None` for the 0, 1 or 10^6 that careless writers leave.
pub(super) fn sensible(ppi: f64) -> Option<Ppi> {
    (10.0..=6000.0).contains(&ppi).then(|| Ppi::new(ppi).ok()).flatten()
}

/// Pixels an inch across against down, where a file states both in a unit that does not matter
/// here: 1 for square pixels and for nonsense, up to a hundredth off counting as square.
pub(super) fn aspect(across: f64, down: f64) -> f64 {
    let aspect = across / down;
    let stretched = (0.2..=5.0).contains(&aspect) && (aspect - 1.0).abs() > 0.01;
    if stretched { aspect } else { 1.0 }
}

/// From pixels a metre, snapped to the whole number of pixels an inch that rounding hid
/// (11811 a metre is 299.9994 ppi: 300 was meant).
pub(super) fn from_per_metre(per_metre: f64) -> Option<Ppi> {
    let ppi = per_metre * 0.0254;
    let whole = ppi.round();
    sensible(if (whole / 0.0254 - per_metre).abs() <= 0.51 { whole } else { ppi })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_sensible_difference_is_one() {
        // Facsimile's standard resolution, ITU-T T.4: 204 x 98 an inch.
        assert!((aspect(204.0, 98.0) - 2.0816).abs() < 1e-4);
        for (x, y) in [(300.0, 300.0), (300.0, 299.0), (0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (72.0, 1.0)] {
            assert_eq!(aspect(x, y), 1.0);
        }
    }
}
