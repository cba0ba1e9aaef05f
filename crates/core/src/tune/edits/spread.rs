//! Edges pushed out.

use super::super::TuneError;
use super::super::edit::mm;
use super::kind::Kind;
use super::On;
use crate::bounds::table;
use crate::screens::ScreenName;
use crate::raster::spread_in_place;
use crate::units::Mm;

edit! {
    /// Push every edge out.
    pub struct Spread {
        /// The screen.
        screen: ScreenName,
        /// How far edges move on the print.
        #[schemars(transform = table::REACH.schema())]
        by_mm: Mm,
    }
}

impl Kind for Spread {
    const LABEL: &'static str = "Spread";

    fn words(&self) -> String {
        format!("{} by {}", self.screen, mm(self.by_mm))
    }

    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        let (reach, progress) = (on.px(self.by_mm), on.progress);
        spread_in_place(on.plane(&self.screen)?, reach, progress)?;
        Ok(())
    }
}
