//! Where the dots of a job's films lie, for the print model.

use std::sync::{Arc, Mutex, PoisonError};

use super::{Cell, DotShape, FilmSettings};
use crate::press::{CELL_SIDE, DotGrids, FillOrder, Lattice};
use crate::screens::ScreenName;

impl DotGrids for FilmSettings {
    /// Dots of one size lie on no lattice that others could share: those of every screen are scattered in
    /// their own way, and index dots hold one ink each.
    fn lattice(&self, screen: &str) -> Option<Lattice> {
        let (ruling, angle, dot) = self.of_screen(&ScreenName::from(screen));
        dot.size_mm().is_none().then(|| Lattice { ruling, angle, fill: fill_order(&dot) })
    }
}

/// How a shape fills its cell. Ranking a cell takes milliseconds: a few are kept.
fn fill_order(dot: &DotShape) -> Arc<FillOrder> {
    static KEPT: Mutex<Vec<(DotShape, Arc<FillOrder>)>> = Mutex::new(Vec::new());
    let kept = || KEPT.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some((_, fill)) = kept().iter().find(|(shape, _)| shape == dot) {
        return fill.clone();
    }
    let cell = Cell::new(dot);
    let middle = |at: usize| ((2 * at + 1) * ((1usize << 31) / CELL_SIDE)) as u32;
    let fill = Arc::new(FillOrder::new(dot.to_string(), |x, y| f32::from(cell.at(middle(x), middle(y))) / 65_535.0));
    let mut kept = kept();
    kept.truncate(15);
    kept.push((*dot, fill.clone()));
    fill
}
