//! Ink and no ink exchanged.

use super::super::TuneError;
use super::kind::Kind;
use super::{On, Start};
use crate::screens::ScreenName;
use crate::raster::FULL;

edit! {
    /// Print where there was no ink, and leave open where there was.
    pub struct Invert {
        /// The screen.
        screen: ScreenName,
    }
}

impl Kind for Invert {
    const LABEL: &'static str = "Invert";

    fn words(&self) -> String {
        self.screen.to_string()
    }

    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        on.plane(&self.screen)?.apply(|v| FULL - v);
        Ok(())
    }

    fn offers(start: &Start<'_>) -> Vec<(&'static str, Self)> {
        vec![("Invert", Self { screen: start.screen.clone() })]
    }
}
