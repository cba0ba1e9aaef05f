//! A look: which view of a level, on what, with which screens. Drawn for any window of its
//! pixels.

use std::collections::{BTreeMap, BTreeSet};
use strikeoff_core::screens::ScreenName;

use egui::{Color32, ColorImage};
use rayon::prelude::*;
use strikeoff_core::color::{ciede2000, encode_u16, lab_from_linear, linear_from_u16};
use strikeoff_core::halftone::FilmSettings;
use strikeoff_core::ink::Garment;
use strikeoff_core::job::Level;
use strikeoff_core::press::{Composite, Ground, PrintModel, Stack};
use strikeoff_core::preview::{Drift, Drifted};
use strikeoff_core::raster::Rgba16;

use super::difference::{BUILD_UP_STEPS, DIFFERENCE_STEPS, ramp_color};
use crate::render::View;

/// Everything a picture on the table depends on, besides the level.
#[derive(Debug, Clone, PartialEq)]
pub struct Look {
    /// The view.
    pub view: View,
    /// What it lies on.
    pub garment: Garment,
    /// How the press runs.
    pub press: PrintModel,
    /// How films are screened.
    pub film: FilmSettings,
    /// Screens left out.
    pub hidden: BTreeSet<ScreenName>,
    /// The chosen screen, for its film.
    pub screen: Option<ScreenName>,
    /// Screens that are out of register or print heavier or lighter than meant, by name.
    pub drifts: BTreeMap<ScreenName, Drift>,
}

impl Look {
    /// What its screens are printed on.
    pub fn ground(&self) -> Ground<'_> {
        Ground { garment: &self.garment, press: &self.press, ruling: self.film.ruling }
    }
}

/// A window of pixels.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct PxRect {
    /// Left column.
    pub x: usize,
    /// Top row.
    pub y: usize,
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
}

/// Draws the pixels of `window`, which must lie inside the level.
pub fn draw(level: &Level, look: &Look, window: PxRect) -> ColorImage {
    let mut image = ColorImage::filled([window.width, window.height], Color32::TRANSPARENT);
    let screens: Vec<_> = level.screens.list.iter().filter(|s| !look.hidden.contains(&s.name)).collect();
    let inks = screens.iter().map(|s| (s.name.as_str(), &s.ink, s.hits));
    let stack = Stack::of_inks(&look.ground(), inks);
    let composite = Composite::new(&stack);
    let fabric = look.garment.reflectance();
    let art = level.prepared.picture.pixels();
    let film = look.screen.as_ref().and_then(|name| level.screens.position(name)).map(|at| &level.screens.list[at]);
    let columns = window.x..window.x + window.width;
    let drifted: Vec<Option<Drifted>> =
        screens.iter().map(|s| look.drifts.get(&s.name).map(|&d| Drifted::new(d, level.screens.ppi))).collect();
    image.pixels.par_chunks_mut(window.width.max(1)).enumerate().for_each(|(row, out)| {
        let y = window.y + row;
        let moved: Vec<Vec<u16>> = screens
            .iter()
            .zip(&drifted)
            .map(|(s, drifted)| {
                let Some(drifted) = drifted else { return Vec::new() };
                let mut row = vec![0; window.width];
                drifted.row(&s.coverage, y, window.x, &mut row);
                row
            })
            .collect();
        let rows: Vec<&[u16]> = screens
            .iter()
            .zip(&moved)
            .map(|(s, moved)| if moved.is_empty() { &s.coverage.row(y)[columns.clone()] } else { &moved[..] })
            .collect();
        match look.view {
            // From afar dots blend to the proof; near by `Dots` draws them.
            View::Print | View::Dots | View::BadDay => composite.row(&rows, bytemuck::cast_slice_mut(out)),
            View::Art => {
                for (pixel, out) in art.row(y)[columns.clone()].iter().zip(out) {
                    *out = color32(encode_u16(on_fabric(pixel, fabric)));
                }
            }
            View::Screen => match film {
                Some(film) => {
                    for (&a, out) in film.coverage.row(y)[columns.clone()].iter().zip(out) {
                        *out = Color32::from_gray(255 - (a >> 8) as u8);
                    }
                }
                None => out.fill(Color32::WHITE),
            },
            View::Difference => {
                let mut a = vec![0.0; rows.len()];
                for (x, (pixel, out)) in art.row(y)[columns.clone()].iter().zip(out).enumerate() {
                    coverages(&rows, x, &mut a);
                    let off =
                        ciede2000(lab_from_linear(stack.reflectance(&a)), lab_from_linear(on_fabric(pixel, fabric)));
                    *out = ramp_color(&DIFFERENCE_STEPS, off);
                }
            }
            View::BuildUp => {
                for (x, out) in out.iter_mut().enumerate() {
                    let total: u32 = rows.iter().map(|row| u32::from(row[x])).sum();
                    *out = ramp_color(&BUILD_UP_STEPS, total as f32 / 65535.0 * 100.0);
                }
            }
        }
    });
    image
}

/// The art's pixel on the fabric, linear light.
pub fn on_fabric(pixel: &Rgba16, fabric: [f32; 3]) -> [f32; 3] {
    let alpha = f32::from(pixel[3]) / 65535.0;
    let over = linear_from_u16(pixel);
    std::array::from_fn(|i| fabric[i] + alpha * (over[i] - fabric[i]))
}

fn coverages(rows: &[&[u16]], x: usize, a: &mut [f32]) {
    for (a, row) in a.iter_mut().zip(rows) {
        *a = f32::from(row[x]) / 65535.0;
    }
}

fn color32(rgb: [u16; 3]) -> Color32 {
    let [r, g, b] = rgb.map(|v| ((u32::from(v) + 128) / 257) as u8);
    Color32::from_rgb(r, g, b)
}
