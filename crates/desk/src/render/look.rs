//! A look: which view of a level, on what, with which screens. Drawn for any window of its
//! pixels.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use strikeoff_core::screens::ScreenName;

use egui::{Color32, ColorImage};
use rayon::prelude::*;
use strikeoff_core::color::{LinRgb, Rgb8, ciede2000, encode_u16, lab_from_linear, linear_from_u16};
use strikeoff_core::halftone::FilmSettings;
use strikeoff_core::ink::Garment;
use strikeoff_core::job::Level;
use strikeoff_core::press::{Composite, DotGrids, Ground, Lattice, Meetings, PrintModel, Stack};
use strikeoff_core::preview::{Drift, Drifted};
use strikeoff_core::raster::Rgba16;
use strikeoff_core::sureness::BandMap;
use strikeoff_core::units::MM_PER_INCH;
use strikeoff_core::usage::PressRun;

use super::difference::{BAND_STEPS, BUILD_UP_STEPS, DIFFERENCE_STEPS, ramp_color};
use crate::render::View;

/// The band of each pixel, equal to itself alone.
#[derive(Debug, Clone)]
pub struct Bands(pub Arc<BandMap>);

impl PartialEq for Bands {
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.0, &other.0)
    }
}

/// Everything a picture on the table depends on, besides the level.
#[derive(Debug, Clone, PartialEq)]
pub struct Look {
    /// The view.
    pub view: View,
    /// What it lies on.
    pub garment: Garment,
    /// Screens that do not print on it.
    pub left_out: BTreeSet<ScreenName>,
    /// How the press runs.
    pub press: PrintModel,
    /// How films are screened.
    pub film: FilmSettings,
    /// The run: register and meshes.
    pub run: PressRun,
    /// Screens left out.
    pub hidden: BTreeSet<ScreenName>,
    /// The chosen screen, for its film.
    pub screen: Option<ScreenName>,
    /// Screens that are out of register or print heavier or lighter than meant, by name.
    pub drifts: BTreeMap<ScreenName, Drift>,
    /// How sure each colour is, for that view.
    pub bands: Option<Bands>,
}

impl Look {
    /// What its screens are printed on.
    pub fn ground(&self) -> Ground<'_> {
        // On a day that is known, screens lie where they lie.
        let register_mm = if self.drifts.is_empty() { self.run.usual_register_mm() } else { 0.0 };
        let meetings = Meetings { dots: self, register_mm };
        let by_chance = Ground::by_chance(&self.garment, &self.press, self.film.ruling);
        let left_out = (!self.left_out.is_empty()).then_some(&self.left_out);
        Ground { meetings: Some(meetings), left_out, ..by_chance }
    }
}

impl DotGrids for Look {
    fn lattice(&self, screen: &str) -> Option<Lattice> {
        self.film.lattice(screen)
    }

    fn shift_mm(&self, screen: &str) -> [f64; 2] {
        self.drifts.get(&ScreenName::from(screen)).map_or([0.0; 2], |drift| drift.shift_mm)
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
            View::Sure => {
                let [w, h] = level.size_px().map(|v| v as f64);
                for (x, out) in out.iter_mut().enumerate() {
                    let at = [(window.x + x) as f64 + 0.5, y as f64 + 0.5];
                    // What is not known is shown as least sure.
                    let band = look.bands.as_ref().map_or(f32::MAX, |bands| bands.0.at(at[0] / w, at[1] / h));
                    *out = ramp_color(&BAND_STEPS, band);
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

/// Rows of the coarser picture that are averaged at a time.
const STRIP: usize = 32;

/// Draws a window of a coarser level, `step` pixels of the finest one in each of its pixels, from the finest
/// one's print averaged in light: as dots look from afar.
pub(super) fn draw_from_afar(finest: &Level, level: &Level, step: usize, look: &Look, window: PxRect) -> ColorImage {
    let of_print = matches!(look.view, View::Print | View::Dots | View::BadDay | View::Difference);
    if !of_print {
        return draw(level, look, window);
    }
    let print = Look { view: if look.view == View::Difference { View::Print } else { look.view }, ..look.clone() };
    let [w, h] = finest.size_px();
    let left = window.x * step;
    let width = (window.width * step).min(w - left);
    let mut image = ColorImage::filled([window.width, window.height], Color32::TRANSPARENT);
    for (strip, out) in image.pixels.chunks_mut(STRIP * window.width.max(1)).enumerate() {
        let top = (window.y + strip * STRIP) * step;
        let height = (out.len() / window.width * step).min(h - top);
        let near = draw(finest, &print, PxRect { x: left, y: top, width, height });
        let light: Vec<[f32; 3]> = near.pixels.par_iter().map(|p| Rgb8([p.r(), p.g(), p.b()]).linear()).collect();
        out.par_chunks_mut(window.width).enumerate().for_each(|(row, out)| {
            let rows = row * step..((row + 1) * step).min(height);
            for (x, out) in out.iter_mut().enumerate() {
                let columns = x * step..((x + 1) * step).min(width);
                let count = (rows.len() * columns.len()).max(1) as f32;
                let mut sum = [0.0f32; 3];
                for pixel in rows.clone().flat_map(|y| &light[y * width + columns.start..y * width + columns.end]) {
                    (0..3).for_each(|i| sum[i] += pixel[i]);
                }
                *out = color32(encode_u16(sum.map(|s| s / count)));
            }
        });
    }
    if look.view == View::Difference {
        let (art, fabric) = (level.prepared.picture.pixels(), look.garment.reflectance());
        for (row, out) in image.pixels.chunks_mut(window.width.max(1)).enumerate() {
            for (pixel, out) in art.row(window.y + row)[window.x..window.x + window.width].iter().zip(out) {
                let printed = Rgb8([out.r(), out.g(), out.b()]).linear();
                let off = ciede2000(lab_from_linear(printed), lab_from_linear(on_fabric(pixel, fabric)));
                *out = ramp_color(&DIFFERENCE_STEPS, off);
            }
        }
    }
    image
}

/// The mean light that the model gives a disc about a place (parts of the print), `across_mm` wide.
pub fn disc_of_model(level: &Level, look: &Look, place: [f64; 2], across_mm: f64) -> LinRgb {
    let screens: Vec<_> = level.screens.list.iter().filter(|s| !look.hidden.contains(&s.name)).collect();
    let stack = Stack::of_inks(&look.ground(), screens.iter().map(|s| (s.name.as_str(), &s.ink, s.hits)));
    let size_px = level.size_px();
    let middle = [0, 1].map(|axis| place[axis] * size_px[axis] as f64);
    let radius = 0.5 * across_mm / MM_PER_INCH * level.screens.ppi.get();
    let span = |axis: usize| {
        let from = (middle[axis] - radius).max(0.0) as usize;
        from..((middle[axis] + radius).ceil().max(0.0) as usize).min(size_px[axis])
    };
    let (mut sum, mut count) = ([0.0f64; 3], 0.0f64);
    let mut a = vec![0.0; screens.len()];
    for y in span(1) {
        let rows: Vec<&[u16]> = screens.iter().map(|s| s.coverage.row(y)).collect();
        for x in span(0).filter(|&x| (x as f64 + 0.5 - middle[0]).hypot(y as f64 + 0.5 - middle[1]) < radius) {
            coverages(&rows, x, &mut a);
            let r = stack.reflectance(&a);
            (0..3).for_each(|band| sum[band] += f64::from(r[band]));
            count += 1.0;
        }
    }
    sum.map(|sum| (sum / count.max(1.0)) as f32)
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::render::Pyramid;
    use strikeoff_core::Progress;
    use strikeoff_core::ink::{Ink, InkRole};
    use strikeoff_core::prep::Prepared;
    use strikeoff_core::raster::{Picture, Plane};
    use strikeoff_core::screens::{Screen, Screens};
    use strikeoff_core::units::{Lpi, Opacity, Ppi};

    /// Dots of red and of white, half of each and none shared, on black: from afar the light is the mean of
    /// both prints, whatever the zoom. Averaged screen by screen, a quarter would seem to be bare and a
    /// quarter to carry both.
    #[test]
    fn dots_seen_from_afar_average_in_light() {
        let ink = |name: &str, color: &str| Ink {
            name: name.into(),
            over_white: color.parse().unwrap(),
            opacity: Opacity::new(0.95).unwrap(),
            role: InkRole::Color,
            measured: false,
            spectra: None,
        };
        let screen = |name: &str, color: &str, odd: usize| Screen {
            name: name.into(),
            ink: ink(name, color),
            hits: 1,
            coverage: Plane::from_fn(256, 192, |x, y| if (x + y) % 2 == odd { u16::MAX } else { 0 }),
        };
        let list = vec![screen("red", "#D8232A", 0), screen("white", "#F4F4F0", 1)];
        let screens = Screens { width: 256, height: 192, ppi: Ppi::new(180.0).unwrap(), list };
        let picture = Picture::new(Plane::filled(256, 192, [40_000, 20_000, 20_000, u16::MAX]));
        let prepared = Prepared { picture, ppi: screens.ppi, print_size_mm: [36.1, 27.1], true_ppi: 180.0 };
        let level = Level { prepared: Arc::new(prepared), screens: Arc::new(screens) };
        let film = FilmSettings { ruling: Lpi::new(45.0).unwrap(), ..FilmSettings::default() };
        let mut look = Look {
            view: View::Print,
            garment: Garment::of_color("#17171A".parse().unwrap()),
            left_out: BTreeSet::new(),
            press: PrintModel::default(),
            film,
            run: Default::default(),
            hidden: BTreeSet::new(),
            screen: None,
            drifts: BTreeMap::new(),
            bands: None,
        };
        let pyramid = Pyramid::build(level, 40, &[], &Progress::none()).unwrap();
        assert!(pyramid.of_dots && pyramid.levels.len() > 2);
        let near = pyramid.draw(0, &look, PxRect { x: 0, y: 0, width: 2, height: 1 });
        let light = |p: Color32| Rgb8([p.r(), p.g(), p.b()]).linear();
        let (red, white) = (light(near.pixels[0]), light(near.pixels[1]));
        let mean: [f32; 3] = std::array::from_fn(|i| (red[i] + white[i]) / 2.0);
        for at in 1..pyramid.levels.len() {
            let [width, height] = pyramid.levels[at].size_px();
            let far = pyramid.draw(at, &look, PxRect { x: 1, y: 1, width: width - 1, height: height - 1 });
            for pixel in &far.pixels {
                let off = ciede2000(lab_from_linear(light(*pixel)), lab_from_linear(mean));
                assert!(off < 0.5, "level {at}: {pixel:?}, {off} from the mean");
            }
        }
        look.view = View::Difference;
        let far = pyramid.draw(1, &look, PxRect { x: 0, y: 0, width: 8, height: 8 });
        let want = ciede2000(lab_from_linear(mean), lab_from_linear(linear_from_u16(&[40_000, 20_000, 20_000, 0])));
        let shown = ramp_color(&DIFFERENCE_STEPS, want);
        let near = |a: u8, b: u8| a.abs_diff(b) <= 3;
        let p = far.pixels[9];
        assert!(near(p.r(), shown.r()) && near(p.g(), shown.g()) && near(p.b(), shown.b()), "{p:?} {shown:?}");
    }
}
