//! What the findings on moire share.

use crate::facts::Survey;
use crate::findings::finding::{Basis, Finding, Input, Number, RiskArea};
use crate::moire::{Beat, texture_mm};
use crate::screens::ScreenName;
use crate::units::Lpi;

/// Share of the print on which a screen must have tones before moire of its dots is reported.
const TONAL: f64 = 0.02;

/// Whether a screen has dots on a grid, and tones enough for them to be seen.
pub(super) fn has_dots(s: &Survey<'_>, at: usize) -> bool {
    s.on_grid(at) && s.tonal(at) >= TONAL
}

/// Where a screen has dots: tones from 5 to 95 %.
pub(super) fn dotted_area(s: &Survey<'_>, at: usize) -> Option<RiskArea> {
    RiskArea::of_map(s.map(|block| f64::from(u8::from((0.05..0.95).contains(&s.at(at, block))))), s.mm_per_px)
}

/// The width of a band as the number of a finding.
pub(super) fn band(beat: &Beat, ruling: Lpi) -> Number {
    Number { label: "width of a band".into(), value: beat.period_mm(), unit: "mm", limit: texture_mm(ruling) }
}

/// What makes moire visible, as an input.
pub(super) fn visible() -> Input {
    Input::new("visible", "bands wider than four dots and 2 mm, ink swinging by more than 2 %", Basis::Assumed)
}

/// Whether there is a finding of these words already: then the screen joins it.
pub(super) fn joined(out: &mut [Finding], what: &str, screen: &ScreenName) -> bool {
    let same = out.iter_mut().find(|f| f.what == what);
    same.map(|f| f.screens.push(screen.clone())).is_some()
}
