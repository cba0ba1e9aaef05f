//! Ink kept inside a region.

use super::super::edit::zero_mm;
use super::super::soften::blur;
use super::super::{Region, TuneError, between};
use super::kind::Kind;
use super::{On, Start};
use crate::bounds::table;
use crate::screens::ScreenName;
use crate::units::Mm;

edit! {
    /// Keep a screen's ink inside a region only, or outside.
    pub struct MaskRegion {
        /// The screen.
        screen: ScreenName,
        /// The region.
        region: Region,
        /// Keep what is outside the region instead.
        #[serde(default)]
        outside: bool,
        /// Width of the region's soft edge on the print.
        #[schemars(transform = table::SOFT_EDGE.schema())]
        #[serde(default = "zero_mm")]
        soft_edge_mm: Mm,
    }
}

impl Kind for MaskRegion {
    const LABEL: &'static str = "Mask by region";

    fn words(&self) -> String {
        let side = if self.outside { "outside" } else { "inside" };
        let shape = match self.region {
            Region::Rectangle { .. } => "a rectangle",
            Region::Ellipse { .. } => "an ellipse",
            Region::Outline { .. } => "an outline",
        };
        format!("{} {side} {shape}", self.screen)
    }

    fn check(&self) -> Result<(), String> {
        self.region.check()
    }

    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        let soft = on.px(self.soft_edge_mm);
        let mut mask = self.region.mask(on.screens.width, on.screens.height);
        if soft > 0.0 {
            // Nine tenths of a Gaussian edge lie within 2.6 standard deviations.
            mask = blur(&mask, soft / 2.6, on.progress)?;
        }
        let plane = on.plane(&self.screen)?;
        if self.outside { between::knock_out(plane, &mask) } else { between::mask(plane, &mask) }
        Ok(())
    }

    fn offers(start: &Start<'_>) -> Vec<(&'static str, Self)> {
        let (left, top, width, height) = (0.1, 0.1, 0.8, 0.8);
        let of = |region| Self { screen: start.screen.clone(), region, outside: false, soft_edge_mm: zero_mm() };
        vec![
            ("Keep a rectangle", of(Region::Rectangle { left, top, width, height })),
            ("Keep an ellipse", of(Region::Ellipse { left, top, width, height })),
        ]
    }
}
