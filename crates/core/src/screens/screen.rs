//! Screens: an ink and its coverage, in print order.

use crate::ink::Ink;
use crate::raster::Plane;
use crate::units::Ppi;

/// One screen: what a film is made from.
#[derive(Debug, Clone, PartialEq)]
pub struct Screen {
    /// Unique in the job, case ignored.
    pub name: String,
    /// The ink it prints.
    pub ink: Ink,
    /// Prints of it, one on the other.
    pub hits: u8,
    /// Coverage meant on the shirt: 0 none, 65535 solid.
    pub coverage: Plane<u16>,
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
    pub fn position(&self, name: &str) -> Option<usize> {
        self.list.iter().position(|s| s.name.eq_ignore_ascii_case(name))
    }
}
