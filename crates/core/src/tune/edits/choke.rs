//! Edges pulled back.

use super::super::TuneError;
use super::super::edit::mm;
use super::kind::Kind;
use super::On;
use crate::bounds::table;
use crate::screens::ScreenName;
use crate::raster::choke_in_place;
use crate::units::Mm;

edit! {
    /// Pull every edge back.
    pub struct Choke {
        /// The screen.
        screen: ScreenName,
        /// How far edges move on the print.
        #[schemars(transform = table::REACH.schema())]
        by_mm: Mm,
    }
}

impl Kind for Choke {
    const LABEL: &'static str = "Choke";

    fn words(&self) -> String {
        format!("{} by {}", self.screen, mm(self.by_mm))
    }

    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        let (reach, progress) = (on.px(self.by_mm), on.progress);
        choke_in_place(on.plane(&self.screen)?, reach, progress)?;
        Ok(())
    }
}
