//! The dots of one screen on one film printer, ready to screen rows with: a turned grid of growing
//! dots, or dots of one size.

use super::cells::CellDots;
use super::grid::DotGrid;
use super::{Cell, DeviceGrid, DotShape, FilmSettings};
use crate::screens::ScreenName;
use crate::units::{Degrees, Lpi};

/// Dots made ready. Making them takes milliseconds; screening with them takes no more memory.
#[derive(Debug, Clone)]
pub struct Dots {
    pub(super) kind: Kind,
    pub(super) sideways: bool,
    cuts: bool,
}

#[derive(Debug, Clone)]
pub(super) enum Kind {
    Grid(DotGrid),
    Cells(CellDots),
}

impl Dots {
    /// For a ruling, an angle and a shape. `angle` is counter-clockwise on the film seen
    /// right-reading.
    pub fn new(device: DeviceGrid, ruling: Lpi, angle: Degrees, dot: &DotShape) -> Self {
        Self::build(device, ruling, angle, dot, 0, false)
    }

    /// From a given threshold table.
    pub fn of_cell(device: DeviceGrid, ruling: Lpi, angle: Degrees, cell: &Cell) -> Self {
        Self { kind: Kind::Grid(DotGrid::of_cell(device, ruling, angle, cell)), sideways: false, cuts: true }
    }

    /// As a job's films have them. Stochastic dots of different screens are scattered differently,
    /// so that inks fall on each other as often as chance has it. `sideways` is for a film that is
    /// turned a right angle clockwise on the film printer.
    pub fn of_screen(film: &FilmSettings, name: &ScreenName, sideways: bool) -> Self {
        let (ruling, angle, dot) = film.of_screen(name);
        // FNV-1a of the name, its case ignored.
        let seed = name
            .to_lowercase()
            .bytes()
            .fold(0x811C_9DC5u32, |hash, byte| (hash ^ u32::from(byte)).wrapping_mul(0x0100_0193));
        Self::build(film.device(), ruling, angle, &dot, seed, sideways)
    }

    /// Whether the edges of flat shapes are cut at the film's resolution. Index dots are squares of their own.
    pub(super) fn cuts_shapes(&self) -> bool {
        self.cuts
    }

    fn build(device: DeviceGrid, ruling: Lpi, angle: Degrees, dot: &DotShape, seed: u32, sideways: bool) -> Self {
        let kind = match CellDots::new(device, dot, seed, sideways) {
            Some(cells) => Kind::Cells(cells),
            None => {
                let turn = if sideways { 90.0 } else { 0.0 };
                let angle = Degrees::new((angle.get() - turn).rem_euclid(360.0)).unwrap_or(angle);
                Kind::Grid(DotGrid::new(device, ruling, angle, dot))
            }
        };
        Self { kind, sideways, cuts: !matches!(dot, DotShape::Index { .. }) }
    }
}
