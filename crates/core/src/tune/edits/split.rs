//! Tones moved to a screen of their own.

use super::super::edit::{fraction, one, percent, tenth};
use super::super::{TuneError, between};
use super::kind::Kind;
use super::{Menu, On, Start};
use crate::bounds::usual;
use crate::ink::Ink;
use crate::screens::{NewName, ScreenName};
use crate::screens::Screen;
use crate::units::Coverage;

edit! {
    /// Move a range of tones to a screen of its own, printed right after.
    pub struct Split {
        /// The screen.
        screen: ScreenName,
        /// Name of the new screen.
        name: NewName,
        /// Lightest tone that moves.
        from: Coverage,
        /// Darkest tone that moves.
        #[serde(default = "one")]
        to: Coverage,
        /// Width of tone over which both screens share the ink.
        #[schemars(transform = usual(0.0, 0.5))]
        #[serde(default = "tenth")]
        soft_over: Coverage,
        /// Ink of the new screen; the same if left out.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        ink: Option<Ink>,
    }
}

impl Kind for Split {
    const LABEL: &'static str = "Split tones";
    const MENU: Menu = Menu::NewScreen;

    fn words(&self) -> String {
        format!("{} {} to {} to {}", self.screen, percent(self.from), percent(self.to), self.name)
    }

    fn check(&self) -> Result<(), String> {
        if self.from >= self.to {
            return Err("the range that is split off must end above where it begins".to_owned());
        }
        Ok(())
    }

    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        let at = on.find(&self.screen)?;
        let screen = &mut on.screens.list[at];
        let coverage = between::split(&mut screen.coverage, self.from, self.to, self.soft_over);
        let ink = self.ink.as_ref().unwrap_or(&screen.ink).clone();
        on.insert(at + 1, Screen { name: self.name.screen().clone(), ink, hits: 1, coverage })
    }

    fn offers(start: &Start<'_>) -> Vec<(&'static str, Self)> {
        let (screen, name) = (start.screen.clone(), (start.free)(&format!("{} deep", start.screen)));
        let soft_over = tenth();
        vec![("Split off tones", Self { screen, name, from: fraction(0.6), to: one(), soft_over, ink: None })]
    }
}
