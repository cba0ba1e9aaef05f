//! A screen taken out.

use super::super::edit::again;
use super::super::{ConflictFix, TuneError};
use super::kind::Kind;
use super::{Again, On};
use crate::screens::ScreenName;

edit! {
    /// Take a screen out.
    pub struct Drop {
        /// The screen.
        screen: ScreenName,
        /// Separate the other screens again to make up for it; for screens that come from the separation.
        #[serde(default)]
        separate_again: bool,
    }
}

impl Drop {
    /// With the other screens kept.
    pub fn plain(screen: impl Into<ScreenName>) -> Self {
        Self { screen: screen.into(), separate_again: false }
    }
}

impl Kind for Drop {
    const LABEL: &'static str = "Drop";

    fn words(&self) -> String {
        format!("{}{}", self.screen, again(self.separate_again))
    }

    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        match on.find(&self.screen) {
            Ok(at) => {
                on.screens.list.remove(at);
                Ok(())
            }
            // The separation was made without it.
            Err(_) if self.separate_again => Ok(()),
            Err(error) => Err(error),
        }
    }

    fn removes(&self) -> Option<&ScreenName> {
        Some(&self.screen)
    }

    fn again(&self) -> Option<Again<'_>> {
        self.separate_again.then_some(Again::Without(&self.screen))
    }

    /// Taking away what is gone needs no other fix than deleting.
    fn fixes_without(&self, _missing: &ScreenName, _usual: Vec<ConflictFix>) -> Vec<ConflictFix> {
        Vec::new()
    }
}
