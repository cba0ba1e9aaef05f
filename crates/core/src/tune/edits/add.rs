//! A new screen, separated with the others or beside them.

use super::super::add::added;
use super::super::{Place, TuneError};
use super::kind::Kind;
use super::{Again, Menu, On};
use crate::ink::Ink;
use crate::screens::NewName;
use crate::screens::Screen;

edit! {
    /// Add a screen; the others are separated again with it, or stay.
    ///
    /// Where the others stay, a first black is made from the artwork's shadows and edges, and any other
    /// ink prints what brings the proof nearest to the artwork.
    pub struct Add {
        /// Name of the new screen.
        name: NewName,
        /// Its ink.
        ink: Ink,
        /// Where it prints.
        #[serde(default)]
        place: Place,
        /// Leave the other screens as they are; else all are separated again with the new one.
        #[serde(default)]
        keep_others: bool,
    }
}

impl Kind for Add {
    const LABEL: &'static str = "Add screen";
    const MENU: Menu = Menu::NewScreen;

    fn words(&self) -> String {
        let place = match self.place {
            Place::Usual => "",
            Place::First => ", printed first",
            Place::Last => ", printed last",
        };
        let others = if self.keep_others { "" } else { ", separated again" };
        format!("{}{place}{others}", self.name)
    }

    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        if !self.keep_others {
            // Made by the separation.
            return Ok(());
        }
        let inks: Vec<&Ink> = on.screens.list.iter().map(|s| &s.ink).collect();
        let at = self.place.among(&inks, &self.ink);
        let name = self.name.screen();
        let coverage = added(on.screens, at, name, &self.ink, on.prepared, on.ground, on.progress)?;
        on.insert(at, Screen { name: name.clone(), ink: self.ink.clone(), hits: 1, coverage })
    }

    fn again(&self) -> Option<Again<'_>> {
        (!self.keep_others).then_some(Again::Added(&self.name, &self.ink, self.place))
    }
}
