//! A copy of a screen.

use super::super::TuneError;
use super::kind::Kind;
use super::{Menu, On, Start};
use crate::ink::Ink;
use crate::screens::{NewName, ScreenName};

edit! {
    /// Copy a screen, printed right after it.
    pub struct Copy {
        /// The screen.
        screen: ScreenName,
        /// Name of the copy.
        name: NewName,
        /// Ink of the copy; the same if left out.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        ink: Option<Ink>,
    }
}

impl Kind for Copy {
    const LABEL: &'static str = "Copy";
    const MENU: Menu = Menu::NewScreen;

    fn words(&self) -> String {
        format!("{} as {}", self.screen, self.name)
    }

    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        let at = on.find(&self.screen)?;
        let mut copy = on.screens.list[at].clone();
        copy.name = self.name.screen().clone();
        if let Some(ink) = &self.ink {
            copy.ink = ink.clone();
        }
        on.insert(at + 1, copy)
    }

    fn offers(start: &Start<'_>) -> Vec<(&'static str, Self)> {
        let name = (start.free)(&format!("{} copy", start.screen));
        vec![("Copy", Self { screen: start.screen.clone(), name, ink: None })]
    }
}
