//! Two screens made one.

use super::super::edit::{half, percent};
use super::super::{TuneError, between};
use super::kind::Kind;
use super::{Menu, On, Start};
use crate::screens::ScreenName;
use crate::units::Coverage;

edit! {
    /// Merge one screen into another: multiply their film values and drop the first.
    pub struct Merge {
        /// The screen that goes.
        from: ScreenName,
        /// The screen that stays.
        into: ScreenName,
        /// How much each counts: 50 % is plain multiply, less favours the screen that stays.
        #[serde(default = "half")]
        balance: Coverage,
    }
}

impl Merge {
    /// By plain multiply.
    pub fn plain(from: impl Into<ScreenName>, into: impl Into<ScreenName>) -> Self {
        Self { from: from.into(), into: into.into(), balance: half() }
    }
}

impl Kind for Merge {
    const LABEL: &'static str = "Merge";
    const MENU: Menu = Menu::WithAnother;

    fn words(&self) -> String {
        let Self { from, into, balance } = self;
        match balance.get() {
            0.5 => format!("{from} into {into}"),
            _ => format!("{from} into {into}, balance {}", percent(*balance)),
        }
    }

    fn check(&self) -> Result<(), String> {
        if self.from == self.into {
            return Err(format!("\"{}\" cannot be merged into itself; name two screens", self.from));
        }
        Ok(())
    }

    fn apply(&self, on: &mut On<'_>) -> Result<(), TuneError> {
        let (plane, other) = on.two(&self.into, &self.from)?;
        between::merge(plane, &other, self.balance);
        let gone = on.find(&self.from)?;
        on.screens.list.remove(gone);
        Ok(())
    }

    fn removes(&self) -> Option<&ScreenName> {
        Some(&self.from)
    }

    fn takes_in(&self) -> Option<&ScreenName> {
        Some(&self.into)
    }

    fn offers(start: &Start<'_>) -> Vec<(&'static str, Self)> {
        let other = start.other.map(|other| ("Merge it in", Self::plain(other.clone(), start.screen.clone())));
        other.into_iter().collect()
    }
}
