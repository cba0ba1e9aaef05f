//! How often a screen prints.

use super::super::TuneError;
use super::kind::Kind;
use super::On;
use crate::bounds::table;
use crate::screens::ScreenName;

edit! {
    /// Set how often a screen prints, one hit on the other.
    pub struct Hits {
        /// The screen.
        screen: ScreenName,
        /// Prints of the screen, one on the other.
        #[schemars(transform = table::HITS.schema())]
        hits: u8,
    }
}

impl Kind for Hits {
    const LABEL: &'static str = "Hits";

    fn words(&self) -> String {
        format!("{} {}", self.screen, self.hits)
    }

    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        let at = on.find(&self.screen)?;
        on.screens.list[at].hits = self.hits;
        Ok(())
    }
}
