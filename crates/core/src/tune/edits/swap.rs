//! Two screens that exchange what they print.

use super::super::TuneError;
use super::kind::Kind;
use super::{Menu, On, Start};
use crate::screens::ScreenName;

edit! {
    /// Exchange what two screens print; inks, names and places in the order stay.
    pub struct Swap {
        /// One screen.
        screen: ScreenName,
        /// The other screen.
        with: ScreenName,
    }
}

impl Kind for Swap {
    const LABEL: &'static str = "Swap";
    const MENU: Menu = Menu::WithAnother;

    fn words(&self) -> String {
        format!("{} and {}", self.screen, self.with)
    }

    fn check(&self) -> Result<(), String> {
        if self.screen == self.with {
            return Err(format!("\"{}\" cannot change places with itself; name two screens", self.screen));
        }
        Ok(())
    }

    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        let (a, b) = (on.find(&self.screen)?, on.find(&self.with)?);
        // Planes change places; names, inks and hits change back.
        on.screens.list.swap(a, b);
        let (first, last) = on.screens.list.split_at_mut(a.max(b));
        let (one, other) = (&mut first[a.min(b)], &mut last[0]);
        std::mem::swap(&mut one.name, &mut other.name);
        std::mem::swap(&mut one.ink, &mut other.ink);
        std::mem::swap(&mut one.hits, &mut other.hits);
        Ok(())
    }

    fn offers(start: &Start<'_>) -> Vec<(&'static str, Self)> {
        let other = start.other.cloned();
        other.map(|with| ("Swap with it", Self { screen: start.screen.clone(), with })).into_iter().collect()
    }
}
