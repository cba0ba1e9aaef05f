//! Coverage multiplied.

use super::super::{TuneError, tone};
use super::kind::Kind;
use super::On;
use crate::bounds::table;
use crate::screens::ScreenName;

edit! {
    /// Multiply the coverage; solid is the most.
    pub struct Density {
        /// The screen.
        screen: ScreenName,
        /// What coverage is multiplied by.
        #[schemars(transform = table::DENSITY.schema())]
        factor: f64,
    }
}

impl Kind for Density {
    const LABEL: &'static str = "Density";

    fn words(&self) -> String {
        format!("{} x {:.2}", self.screen, self.factor)
    }

    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        tone::map_tone(on.plane(&self.screen)?, |c| c * self.factor);
        Ok(())
    }
}
