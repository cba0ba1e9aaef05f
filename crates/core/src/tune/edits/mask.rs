//! Ink kept where another screen prints.

use super::super::{TuneError, between};
use super::kind::Kind;
use super::{Menu, On, Start};
use crate::screens::ScreenName;

edit! {
    /// Keep a screen's ink only where another screen prints, in proportion to it.
    pub struct Mask {
        /// The screen.
        screen: ScreenName,
        /// The other screen.
        by: ScreenName,
    }
}

impl Kind for Mask {
    const LABEL: &'static str = "Mask by screen";
    const MENU: Menu = Menu::WithAnother;

    fn words(&self) -> String {
        format!("{} by {}", self.screen, self.by)
    }

    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        let (plane, other) = on.two(&self.screen, &self.by)?;
        between::mask(plane, &other);
        Ok(())
    }

    fn offers(start: &Start<'_>) -> Vec<(&'static str, Self)> {
        let other = start.other.cloned();
        other.map(|by| ("Keep only under it", Self { screen: start.screen.clone(), by })).into_iter().collect()
    }
}
