//! Another ink for a screen.

use super::super::TuneError;
use super::super::edit::again;
use super::kind::Kind;
use super::{Again, On};
use crate::ink::Ink;
use crate::screens::ScreenName;

edit! {
    /// Print a screen with another ink.
    pub struct ReInk {
        /// The screen.
        screen: ScreenName,
        /// Its new ink.
        ink: Ink,
        /// Separate all screens again for the new ink; for screens that come from the separation.
        #[serde(default)]
        separate_again: bool,
    }
}

impl ReInk {
    /// With the coverages kept.
    pub fn plain(screen: impl Into<ScreenName>, ink: Ink) -> Self {
        Self { screen: screen.into(), ink, separate_again: false }
    }
}

impl Kind for ReInk {
    const LABEL: &'static str = "Re-ink";

    fn words(&self) -> String {
        format!("{} with {}{}", self.screen, self.ink.name, again(self.separate_again))
    }

    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        let at = on.find(&self.screen)?;
        on.screens.list[at].ink = self.ink.clone();
        Ok(())
    }

    fn again(&self) -> Option<Again<'_>> {
        self.separate_again.then_some(Again::With(&self.screen, &self.ink))
    }
}
