//! Screens: an ink and its coverage, in print order.

use super::ScreenName;
use crate::ink::Ink;
use crate::raster::Plane;
use crate::units::Ppi;

/// One screen: what a film is made from.
#[derive(Debug, Clone)]
pub struct Screen {
    /// Unique in the job, case ignored.
    pub name: ScreenName,
    /// The ink it prints.
    pub ink: Ink,
    /// Prints of it, one on the other.
    pub hits: u8,
    /// Coverage meant on the shirt: 0 none, 65535 solid.
    pub coverage: Plane<u16>,
}

/// A name in another case makes another screen: films show it.
impl PartialEq for Screen {
    fn eq(&self, other: &Self) -> bool {
        let Self { name, ink, hits, coverage } = self;
        name.is_written_as(&other.name) && *ink == other.ink && *hits == other.hits && *coverage == other.coverage
    }
}

/// All screens of a job at one resolution, in print order.
#[derive(Debug, Clone, PartialEq)]
pub struct Screens {
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// Resolution at print size.
    pub ppi: Ppi,
    /// First down first.
    pub list: Vec<Screen>,
}

impl Screens {
    /// Where a screen stands in the print order, by name, case ignored.
    pub fn position(&self, name: &ScreenName) -> Option<usize> {
        self.list.iter().position(|s| s.name == *name)
    }
}
