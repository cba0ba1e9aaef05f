//! Softening.

use super::super::TuneError;
use super::super::edit::{mm, zero_mm};
use super::super::soften::blur;
use super::kind::Kind;
use super::{On, Start};
use crate::bounds::table;
use crate::screens::ScreenName;
use crate::units::Mm;

edit! {
    /// Soften a screen.
    pub struct Soften {
        /// The screen.
        screen: ScreenName,
        /// Standard deviation on the print.
        #[schemars(transform = table::RADIUS.schema())]
        by_mm: Mm,
    }
}

impl Kind for Soften {
    const LABEL: &'static str = "Soften";

    fn words(&self) -> String {
        format!("{} by {}", self.screen, mm(self.by_mm))
    }

    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        let (sigma, progress) = (on.px(self.by_mm), on.progress);
        let plane = on.plane(&self.screen)?;
        *plane = blur(plane, sigma, progress)?;
        Ok(())
    }

    fn offers(start: &Start<'_>) -> Vec<(&'static str, Self)> {
        let by_mm = Mm::new(0.2).unwrap_or_else(|_| zero_mm());
        vec![("Soften", Self { screen: start.screen.clone(), by_mm })]
    }
}
