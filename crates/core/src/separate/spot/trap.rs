//! The trap of spot art: light inks reach a little under darker ones that are printed after them,
//! so that no fabric shows where screens do not fall quite on each other. Dark outlines keep
//! their place; only what they cover changes.

use rayon::prelude::*;

use crate::color::lab_from_linear;
use crate::raster::{Plane, spread};
use crate::separate::{PlannedScreen, ScreenPart};
use crate::{Cancelled, Progress};

/// Spreads every colour by `reach_px` under those that are darker and later. Underbases are left
/// alone: they have their choke. An ink that prints after a darker one is left alone too, since it
/// would lighten the other's edge.
pub(super) fn trap(
    planes: &mut [Plane<u16>],
    screens: &[PlannedScreen],
    parts: &[ScreenPart],
    reach_px: f64,
    progress: &Progress,
) -> Result<(), Cancelled> {
    if reach_px < 1e-3 {
        return Ok(());
    }
    let light: Vec<f32> = screens.iter().map(|s| lab_from_linear(s.ink.reflectance_over_white()).l).collect();
    let colors: Vec<usize> = (0..planes.len()).filter(|&i| parts[i] != ScreenPart::Underbase).collect();
    let untrapped: Vec<Plane<u16>> = planes.to_vec();
    for &at in &colors {
        progress.step("trap", at as f32 / planes.len() as f32)?;
        let over: Vec<&Plane<u16>> =
            colors.iter().filter(|&&o| o > at && light[o] < light[at]).map(|&o| &untrapped[o]).collect();
        if over.is_empty() || untrapped[at].data().par_iter().all(|&v| v == 0) {
            continue;
        }
        let wide = spread(&untrapped[at], reach_px, progress)?;
        planes[at].data_mut().par_iter_mut().enumerate().with_min_len(1 << 14).for_each(|(i, v)| {
            let covered = over.iter().map(|plane| plane.data()[i]).max().unwrap_or(0);
            *v = (*v).max(wide.data()[i].min(covered));
        });
    }
    Ok(())
}
