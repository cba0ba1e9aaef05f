//! Sharpening.

use super::super::TuneError;
use super::super::edit::{mm, zero_mm};
use super::super::soften::sharpen;
use super::kind::Kind;
use super::{On, Start};
use crate::bounds::table;
use crate::screens::ScreenName;
use crate::units::Mm;

edit! {
    /// Sharpen a screen by unsharp masking.
    pub struct Sharpen {
        /// The screen.
        screen: ScreenName,
        /// Standard deviation of the mask on the print.
        #[schemars(transform = table::RADIUS.schema())]
        by_mm: Mm,
        /// Strength; 0 changes nothing.
        #[schemars(transform = table::STRENGTH.schema())]
        #[serde(default = "plain")]
        strength: f64,
    }
}

fn plain() -> f64 {
    1.0
}

impl Kind for Sharpen {
    const LABEL: &'static str = "Sharpen";

    fn words(&self) -> String {
        format!("{} x {:.1} at {}", self.screen, self.strength, mm(self.by_mm))
    }

    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        let (sigma, progress) = (on.px(self.by_mm), on.progress);
        let plane = on.plane(&self.screen)?;
        *plane = sharpen(plane, sigma, self.strength, progress)?;
        Ok(())
    }

    fn offers(start: &Start<'_>) -> Vec<(&'static str, Self)> {
        let by_mm = Mm::new(0.2).unwrap_or_else(|_| zero_mm());
        vec![("Sharpen", Self { screen: start.screen.clone(), by_mm, strength: plain() })]
    }
}
