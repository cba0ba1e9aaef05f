//! The screens that an edit is applied to, and what it is given to do it.

use super::super::TuneError;
use crate::Progress;
use crate::ink::Ink;
use crate::prep::Prepared;
use crate::press::Ground;
use crate::raster::{FULL, Plane};
use crate::screens::ScreenName;
use crate::screens::{MAX_JOB_SCREENS, Screen, Screens};
use crate::units::{Coverage, MM_PER_INCH, Mm};

/// The screens on their way through the list of edits.
pub struct On<'a> {
    /// The screens.
    pub screens: &'a mut Screens,
    /// The prepared art.
    pub prepared: &'a Prepared,
    /// What they print on.
    pub ground: &'a Ground<'a>,
    /// Place of the edit in the list, from 1.
    pub number: usize,
    /// How far it is.
    pub progress: &'a Progress,
}

impl On<'_> {
    /// Where a screen stands.
    pub fn find(&self, name: &ScreenName) -> Result<usize, TuneError> {
        let found = self.screens.position(name);
        found.ok_or_else(|| TuneError::NoScreen { number: self.number, screen: name.clone() })
    }

    /// The coverage of a screen, to be changed.
    pub fn plane(&mut self, name: &ScreenName) -> Result<&mut Plane<u16>, TuneError> {
        let at = self.find(name)?;
        Ok(&mut self.screens.list[at].coverage)
    }

    /// The coverage of `screen`, to be changed, and a copy of the other's.
    pub fn two(&mut self, screen: &ScreenName, by: &ScreenName) -> Result<(&mut Plane<u16>, Plane<u16>), TuneError> {
        let (at, other) = (self.find(screen)?, self.find(by)?);
        let copy = self.screens.list[other].coverage.clone();
        Ok((&mut self.screens.list[at].coverage, copy))
    }

    /// A length in pixels.
    pub fn px(&self, length: Mm) -> f64 {
        length.px(self.screens.ppi.get())
    }

    /// An area in pixels.
    pub fn area_px(&self, mm2: f64) -> f64 {
        mm2 * (self.screens.ppi.get() / MM_PER_INCH).powi(2)
    }

    /// Puts a new screen in.
    pub fn insert(&mut self, at: usize, screen: Screen) -> Result<(), TuneError> {
        if self.screens.position(&screen.name).is_some() {
            return Err(TuneError::NameTaken { number: self.number, screen: screen.name });
        }
        if self.screens.list.len() >= MAX_JOB_SCREENS {
            return Err(TuneError::TooManyScreens { number: self.number });
        }
        self.screens.list.insert(at, screen);
        Ok(())
    }

    /// Puts a new screen last.
    pub fn push(&mut self, name: &ScreenName, ink: &Ink, coverage: Plane<u16>) -> Result<(), TuneError> {
        let last = self.screens.list.len();
        self.insert(last, Screen { name: name.clone(), ink: ink.clone(), hits: 1, coverage })
    }
}

/// A coverage as a plane has it.
pub fn level(coverage: Coverage) -> u16 {
    (coverage.get() * f64::from(FULL)).round() as u16
}
