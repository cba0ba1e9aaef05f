//! The file's own resolution, or a default where it states none or nonsense.

use strikeoff_core::units::Ppi;

/// Taken where a file states no resolution: the reference pixel of the web, 96 to the inch,
/// from where most such files come.
pub(super) const DEFAULT_PPI: f64 = 96.0;

/// Keeps what a file may sensibly state; `None` for the 0, 1 or 10^6 that careless writers leave.
pub(super) fn sensible(ppi: f64) -> Option<Ppi> {
    (10.0..=6000.0).contains(&ppi).then(|| Ppi::new(ppi).ok()).flatten()
}

/// From pixels a metre, snapped to the whole number of pixels an inch that rounding hid
/// (11811 a metre is 299.9994 ppi: 300 was meant).
pub(super) fn from_per_metre(per_metre: f64) -> Option<Ppi> {
    let ppi = per_metre * 0.0254;
    let whole = ppi.round();
    sensible(if (whole / 0.0254 - per_metre).abs() <= 0.51 { whole } else { ppi })
}
