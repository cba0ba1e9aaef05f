//! Index separation: square dots of one size, each printed with one ink (and its underbase) or
//! left bare, placed by error diffusion against the print model. No two inks share a dot, so
//! nothing depends on angles, rulings or how dots fall on each other.
//!
//! The working resolution is chosen so that a dot has a whole number of pixels
//! ([`super::IndexSettings::working_ppi`]). On a proxy whose pixels are larger than the dots every pixel is
//! a dot: the grain is coarser there, tones and colours are the same.

use rayon::prelude::*;

use super::colors::{DotColor, Reach, dot_colors};
use super::diffuse::{DotTarget, diffuse};
use crate::Progress;
use crate::color::{ciede2000, lab_from_linear, linear_from_u16};
use crate::prep::Prepared;
use crate::press::Ground;
use crate::raster::{FULL, Picture, Plane};
use crate::separate::error::check;
use crate::separate::flat::flat_colors;
use crate::separate::model::oklab;
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
    let mut targets = grid.targets(prepared, plan.garment, &reach);
    if settings.index.keep_flat {
        keep_flat(&mut targets, &prepared.picture, &colors, &reach);
    }
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

/// Least share of the picture that makes a flat area's colour.
const FLAT_SHARE: f64 = 0.005;
/// Dots this near to a flat colour, in OKLab, are of its area ..
const FLAT_WITHIN: f32 = 0.012;
/// .. if so many of the dots within three times that are: in a gradient it is a third.
const FLAT_PEAK: f64 = 0.6;
/// A dot colour further from a flat colour, CIEDE2000, does not stand for it: the area is mixed.
const FLAT_OFF: f32 = 6.0;

/// Lets flat areas take one dot colour each where one comes near: a second ink scattered over them to
/// correct a small difference would look worse than the difference.
fn keep_flat(targets: &mut Plane<DotTarget>, picture: &Picture, colors: &[DotColor], reach: &Reach) {
    let labs = targets.map(|target| oklab(target.light));
    for flat in flat_colors(picture, f64::from(4.0 * FLAT_WITHIN), FLAT_SHARE) {
        let light = reach.nearest(linear_from_u16(&flat.exact));
        let off = |color: &DotColor| ciede2000(lab_from_linear(color.light), lab_from_linear(light));
        let nearest = (0..colors.len()).min_by(|a, b| off(&colors[*a]).total_cmp(&off(&colors[*b])));
        let Some(dot) = nearest.filter(|at| off(&colors[*at]) <= FLAT_OFF) else { continue };
        let center = oklab(light);
        let away = |lab: &[f32; 3]| (0..3).map(|i| (lab[i] - center[i]).powi(2)).sum::<f32>().sqrt();
        let within = |most: f32| {
            let near = targets.data().iter().zip(labs.data()).filter(|(t, lab)| t.fixed.is_none() && away(lab) <= most);
            near.count()
        };
        let (own, around) = (within(FLAT_WITHIN), within(3.0 * FLAT_WITHIN));
        if (own as f64) < FLAT_PEAK * around as f64 {
            continue;
        }
        for (target, lab) in targets.data_mut().iter_mut().zip(labs.data()) {
            if target.fixed.is_none() && away(lab) <= FLAT_WITHIN {
                target.fixed = Some(dot as u8);
            }
        }
    }
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
        let mut out = Plane::filled(across, down, DotTarget { light: fabric, fixed: Some(0) });
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
                    *out = DotTarget { light: last.1, fixed: None };
                }
            }
        });
        out
    }
}
