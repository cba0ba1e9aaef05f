//! The art's background cleared.

use super::super::background::background_within;
use super::super::edit::{mm, zero_mm};
use super::super::soften::blur;
use super::super::{TuneError, between};
use super::kind::Kind;
use super::{On, Start};
use crate::bounds::table;
use crate::screens::ScreenName;
use crate::raster::FULL;
use crate::units::Mm;

edit! {
    /// Take a screen's ink out of the artwork's background, from the picture's edge inwards.
    ///
    /// The background is what is clear, and what joins the picture's edge in the edge's own colour.
    pub struct ClearBackground {
        /// The screen.
        screen: ScreenName,
        /// Distance in OKLab that still counts as the edge's colour.
        #[schemars(transform = table::CLEAR_TOLERANCE.schema())]
        #[serde(default = "same")]
        tolerance: f64,
        /// Width over which ink comes back inside the background's border; 0 is hard.
        #[schemars(transform = table::SOFT_EDGE.schema())]
        #[serde(default = "zero_mm")]
        soft_edge_mm: Mm,
    }
}

/// Wide enough for JPEG noise and the shading of paper, narrower than a pastel.
fn same() -> f64 {
    0.045
}

impl Kind for ClearBackground {
    const LABEL: &'static str = "Clear background";

    fn words(&self) -> String {
        match self.soft_edge_mm.get() {
            0.0 => self.screen.to_string(),
            _ => format!("{}, soft over {}", self.screen, mm(self.soft_edge_mm)),
        }
    }

    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        let found = background_within(&on.prepared.picture, self.tolerance)
            .ok_or_else(|| TuneError::NoBackground { number: on.number, screen: self.screen.clone() })?;
        let soft = on.px(self.soft_edge_mm);
        let mut keep = found.map(|out| if out { 0 } else { FULL });
        if soft > 0.0 {
            // Half of the soft step lies outside, where nothing may print: the inner half is stretched
            // over the whole. Nine tenths of it lie within 1.3 standard deviations.
            keep = blur(&keep, soft / 1.3, on.progress)?;
            keep.apply(|v| (2 * u32::from(v)).saturating_sub(u32::from(FULL)) as u16);
        }
        between::mask(on.plane(&self.screen)?, &keep);
        Ok(())
    }

    fn offers(start: &Start<'_>) -> Vec<(&'static str, Self)> {
        let soft_edge_mm = Mm::new(0.3).unwrap_or_else(|_| zero_mm());
        vec![("Clear the background", Self { screen: start.screen.clone(), tolerance: same(), soft_edge_mm })]
    }
}
