//! Ink taken out where another screen prints.

use super::super::edit::{mm, zero_mm};
use super::super::{TuneError, between};
use super::kind::Kind;
use super::{Menu, On, Start};
use crate::bounds::table;
use crate::screens::ScreenName;
use crate::raster::choke;
use crate::units::Mm;

edit! {
    /// Take a screen's ink out where another screen prints, in proportion to it.
    pub struct KnockOut {
        /// The screen.
        screen: ScreenName,
        /// The other screen.
        by: ScreenName,
        /// How far the two still overlap: the other is choked by this first.
        #[schemars(transform = table::OVERLAP.schema())]
        #[serde(default = "zero_mm")]
        overlap_mm: Mm,
    }
}

impl Kind for KnockOut {
    const LABEL: &'static str = "Knock out";
    const MENU: Menu = Menu::WithAnother;

    fn words(&self) -> String {
        match self.overlap_mm.get() {
            0.0 => format!("{} out of {}", self.by, self.screen),
            _ => format!("{} out of {}, overlap {}", self.by, self.screen, mm(self.overlap_mm)),
        }
    }

    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        let (overlap, progress) = (on.px(self.overlap_mm), on.progress);
        let (plane, other) = on.two(&self.screen, &self.by)?;
        between::knock_out(plane, &choke(&other, overlap, progress)?);
        Ok(())
    }

    fn offers(start: &Start<'_>) -> Vec<(&'static str, Self)> {
        let overlap_mm = Mm::new(0.1).unwrap_or_else(|_| zero_mm());
        let other = start.other.cloned();
        other.map(|by| ("Knock it out", Self { screen: start.screen.clone(), by, overlap_mm })).into_iter().collect()
    }
}
