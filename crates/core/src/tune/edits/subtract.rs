//! Another screen's coverage taken off.

use super::super::edit::{one, percent};
use super::super::{TuneError, between};
use super::kind::Kind;
use super::{Menu, On, Start};
use crate::screens::ScreenName;
use crate::units::Coverage;

edit! {
    /// Take another screen's coverage off this one's.
    pub struct Subtract {
        /// The screen.
        screen: ScreenName,
        /// The other screen.
        by: ScreenName,
        /// Share of the other screen's coverage that is taken off.
        #[serde(default = "one")]
        share: Coverage,
    }
}

impl Kind for Subtract {
    const LABEL: &'static str = "Subtract";
    const MENU: Menu = Menu::WithAnother;

    fn words(&self) -> String {
        format!("{} of {} off {}", percent(self.share), self.by, self.screen)
    }

    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        let (plane, other) = on.two(&self.screen, &self.by)?;
        between::subtract(plane, &other, self.share);
        Ok(())
    }

    fn offers(start: &Start<'_>) -> Vec<(&'static str, Self)> {
        let other = start.other.cloned();
        other.map(|by| ("Subtract it", Self { screen: start.screen.clone(), by, share: one() })).into_iter().collect()
    }
}
