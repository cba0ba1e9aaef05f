//! The table of a picture's colours as others use it.

use super::base_under::hold_bases;
use super::lookup;
use super::table::{self, Table, Touched};
use crate::Progress;
use crate::press::Ground;
use crate::raster::{Picture, Plane};
use crate::separate::error::{SeparateError, check};
use crate::separate::model::MAX_SCREENS;
use crate::separate::plan::Plan;
use crate::separate::{Printing, SeparationSettings};

/// The coverages of all colours of a picture on a garment: solved once, looked up for every pixel.
#[derive(Debug, Clone)]
pub struct ColorTable {
    table: Table,
    garment: [f32; 3],
}

impl ColorTable {
    /// Solves the colours of `picture`. Other pictures may be looked up only if they have no
    /// colours far from these: cells that the picture does not touch are empty.
    pub fn solve(
        picture: &Picture,
        ground: &Ground<'_>,
        settings: &SeparationSettings,
        progress: &Progress,
    ) -> Result<Self, SeparateError> {
        Self::solve_on(picture, &[Printing::alone(ground)], settings, progress)
    }

    /// The same for several garments together, the art blended with the first where it is half clear.
    pub(in crate::separate) fn solve_on(
        picture: &Picture,
        printings: &[Printing<'_>],
        settings: &SeparationSettings,
        progress: &Progress,
    ) -> Result<Self, SeparateError> {
        progress.step("separate", 0.0)?;
        check(settings)?;
        let plan = Plan::on(printings, settings).with_even_greys();
        let touched = Touched::by(picture, plan.garment);
        let mut table = table::solve(&touched, &plan, progress)?;
        hold_bases(&mut table, &plan, settings, &plan.parts);
        Ok(Self { table, garment: plan.garment })
    }

    /// A table of given coverages, `coverage(node, screen)`, on white; for tests and benches of the look-up.
    ///
    /// # Panics
    /// If there are no screens or more than [`MAX_SCREENS`].
    pub fn of_nodes(screens: usize, coverage: impl Fn(usize, usize) -> u16) -> Self {
        assert!((1..=MAX_SCREENS).contains(&screens));
        Self { table: Table::of_nodes(screens, coverage), garment: [1.0; 3] }
    }

    /// One plane a screen, in print order, before choke.
    pub fn planes(&self, picture: &Picture) -> Vec<Plane<u16>> {
        lookup::planes(&self.table, self.garment, picture)
    }

    /// The same without the fast kernel: the plain reference of tests and benches.
    pub fn planes_plainly(&self, picture: &Picture) -> Vec<Plane<u16>> {
        lookup::planes_plainly(&self.table, self.garment, picture)
    }
}
