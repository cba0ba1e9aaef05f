//! Simulated process: the table's coverages, and the choke of the underbases.

use super::ColorTable;
use crate::Progress;
use crate::prep::Prepared;
use crate::press::Ground;
use crate::raster::Plane;
use crate::separate::choke::choke;
use crate::separate::error::SeparateError;
use crate::separate::{ScreenPart, SeparationSettings};

/// One plane a screen.
pub(in crate::separate) fn planes(
    prepared: &Prepared,
    ground: &Ground<'_>,
    settings: &SeparationSettings,
    progress: &Progress,
) -> Result<Vec<Plane<u16>>, SeparateError> {
    let table = ColorTable::solve(&prepared.picture, ground, settings, progress)?;
    progress.step("separate", 0.8)?;
    let mut planes = table.planes(&prepared.picture);
    let parts = settings.parts(ground.garment.is_white());
    let bases = planes.iter_mut().zip(parts).filter(|(_, part)| *part == ScreenPart::Underbase);
    for (at, (plane, _)) in bases.enumerate() {
        choke(plane, settings.underbase.choke_of(at).px(prepared.ppi.get()), &progress.part(0.8, 1.0))?;
    }
    Ok(planes)
}
