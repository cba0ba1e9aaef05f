//! Middle tones up or down.

use super::super::{TuneError, tone};
use super::kind::Kind;
use super::{On, Start};
use crate::bounds::table;
use crate::screens::ScreenName;

edit! {
    /// Add points to the middle tones, none at the ends.
    ///
    /// The shape is `4 c (1 - c)`; less than none takes points away.
    pub struct Gain {
        /// The screen.
        screen: ScreenName,
        /// Points at 50 %.
        #[schemars(transform = table::GAIN.schema())]
        points: f64,
    }
}

impl Kind for Gain {
    const LABEL: &'static str = "Gain";

    fn words(&self) -> String {
        format!("{} {:+.1} points", self.screen, self.points)
    }

    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        tone::gain(on.plane(&self.screen)?, self.points);
        Ok(())
    }

    fn offers(start: &Start<'_>) -> Vec<(&'static str, Self)> {
        vec![("Gain", Self { screen: start.screen.clone(), points: 5.0 })]
    }
}
