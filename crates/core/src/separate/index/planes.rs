//! Index separation: square dots of one size, each printed with one ink (and its underbase) or
//! left bare, placed by error diffusion against the print model. No two inks share a dot, so
//! nothing depends on angles, rulings or how dots fall on each other.
//!
//! The working resolution is chosen so that a dot has a whole number of pixels
//! ([`super::IndexSettings::working_ppi`]). On a proxy whose pixels are larger than the dots every pixel is
//! a dot: the grain is coarser there, tones and colours are the same.

use rayon::prelude::*;

use super::colors::{Reach, dot_colors};
use super::diffuse::{DotTarget, diffuse};
use crate::Progress;
use crate::color::linear_from_u16;
use crate::prep::Prepared;
use crate::press::Ground;
use crate::raster::{FULL, Plane};
use crate::separate::error::check;
use crate::separate::plan::Plan;
use crate::separate::{SeparateError, SeparationSettings};

/// A dot with less of the art than this takes no ink.
const LEAST_ALPHA: f32 = 0.02;

/// One plane a screen, 0 or 65535 everywhere.
pub(in crate::separate) fn planes(
    prepared: &Prepared,
    ground: &Ground<'_>,
    settings: &SeparationSettings,
    progress: &Progress,
) -> Result<Vec<Plane<u16>>, SeparateError> {
    check(settings)?;
    let plan = Plan::new(ground, settings);
    progress.step("find dot colours", 0.0)?;
    let colors = dot_colors(settings, ground.garment, &plan);
    let reach = Reach::of(&colors, settings.hue_keeping as f32);
    let grid = Grid::new(prepared, settings.index.dot_mm.px(prepared.ppi.get()));
    progress.step("place dots", 0.0)?;
    let targets = grid.targets(prepared, plan.garment, &reach);
    let lights: Vec<[f32; 3]> = colors.iter().map(|c| c.light).collect();
    let dots = diffuse(&targets, &lights, progress)?;
    let planes = (0..settings.screens.len())
        .map(|screen| {
            let inked: Vec<bool> = colors.iter().map(|c| c.screens.contains(&screen)).collect();
            Plane::from_fn(grid.columns.len(), grid.rows.len(), |x, y| {
                let dot = dots.get(grid.columns[x] as usize, grid.rows[y] as usize);
                if inked[usize::from(dot)] { FULL } else { 0 }
            })
        })
        .collect();
    Ok(planes)
}

/// Which dot every pixel belongs to.
struct Grid {
    columns: Vec<u32>,
    rows: Vec<u32>,
}

impl Grid {
    fn new(prepared: &Prepared, dot_px: f64) -> Self {
        // Millimetres and resolutions go through divisions that leave the last digits open.
        let whole = dot_px.round();
        let pitch = if (dot_px - whole).abs() < 1e-6 * dot_px { whole } else { dot_px }.max(1.0);
        let of = |px: usize| (0..px).map(|x| ((x as f64 + 0.5) / pitch) as u32).collect();
        Self { columns: of(prepared.picture.width()), rows: of(prepared.picture.height()) }
    }

    /// What every dot wants: the mean light of its pixels over the fabric, within reach of the inks.
    fn targets(&self, prepared: &Prepared, fabric: [f32; 3], reach: &Reach) -> Plane<DotTarget> {
        let dots = |of: &[u32]| of.last().map_or(0, |&last| last as usize + 1);
        let (across, down) = (dots(&self.columns), dots(&self.rows));
        let pixels = prepared.picture.pixels();
        let mut out = Plane::filled(across, down, DotTarget { light: fabric, clear: true });
        out.data_mut().par_chunks_mut(across.max(1)).enumerate().for_each(|(dot_y, out)| {
            let from = self.rows.partition_point(|&r| (r as usize) < dot_y);
            let to = self.rows.partition_point(|&r| (r as usize) <= dot_y);
            let mut sums = vec![([0.0f32; 3], 0.0f32, 0u32); across];
            for y in from..to {
                for (pixel, &column) in pixels.row(y).iter().zip(&self.columns) {
                    let alpha = f32::from(pixel[3]) / 65535.0;
                    let over = linear_from_u16(pixel);
                    let (light, inked, count) = &mut sums[column as usize];
                    for i in 0..3 {
                        light[i] += fabric[i] + alpha * (over[i] - fabric[i]);
                    }
                    *inked += alpha;
                    *count += 1;
                }
            }
            let mut last = ([f32::NAN; 3], [0.0; 3]);
            for (out, (sum, inked, count)) in out.iter_mut().zip(sums) {
                let n = count.max(1) as f32;
                let mean = sum.map(|s| s / n);
                if inked / n >= LEAST_ALPHA {
                    if last.0 != mean {
                        last = (mean, reach.nearest(mean));
                    }
                    *out = DotTarget { light: last.1, clear: false };
                }
            }
        });
        out
    }
}
