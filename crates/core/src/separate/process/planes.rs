//! Simulated process: the table's coverages, and the choke of the underbases.

use super::ColorTable;
use super::fade::fade;
use crate::Progress;
use crate::prep::Prepared;
use crate::raster::{Picture, Plane};
use crate::separate::choke::choke;
use crate::separate::error::SeparateError;
use crate::separate::plan::Plan;
use crate::separate::{Printing, ScreenPart, SeparationSettings};

/// One plane a screen.
pub(in crate::separate) fn planes(
    prepared: &Prepared,
    printings: &[Printing<'_>],
    settings: &SeparationSettings,
    progress: &Progress,
) -> Result<Vec<Plane<u16>>, SeparateError> {
    let picture = &prepared.picture;
    let solve = |picture: &Picture| ColorTable::solve_on(picture, printings, settings, progress);
    let mut planes = if printings.len() == 1 || !picture.has_alpha() {
        let table = solve(picture)?;
        progress.step("separate", 0.8)?;
        table.planes(picture)
    } else {
        let opaque = Picture::new(Plane::from_fn(picture.width(), picture.height(), |x, y| {
            let [r, g, b, a] = picture.pixels().get(x, y);
            if a == 0 { [0; 4] } else { [r, g, b, u16::MAX] }
        }));
        let table = solve(&opaque)?;
        progress.step("separate", 0.8)?;
        let mut planes = table.planes(&opaque);
        fade(&mut planes, picture, &Plan::on(printings, settings));
        planes
    };
    let is_base = |at: &usize| printings.iter().any(|on| on.parts(settings)[*at] == Some(ScreenPart::Underbase));
    let bases: Vec<bool> = (0..planes.len()).map(|at| is_base(&at)).collect();
    let bases = planes.iter_mut().zip(bases).filter(|(_, base)| *base);
    for (at, (plane, _)) in bases.enumerate() {
        choke(plane, settings.underbase.choke_of(at).px(prepared.ppi.get()), &progress.part(0.8, 1.0))?;
    }
    Ok(planes)
}
