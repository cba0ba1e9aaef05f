//! The real halftone as it prints: rows from the code that writes films, dots as large as the press makes them,
//! each device pixel a solid of the screens whose dots it lies in, averaged where the table shows several in one.

use egui::{Color32, ColorImage};
use rayon::prelude::*;
use strikeoff_core::color::{LinRgb, encode_u16};
use strikeoff_core::halftone::{Dots as FilmDots, Field, FieldCursor, FilmSettings, ToneTable};
use strikeoff_core::job::{Level, dots_of_screen};
use strikeoff_core::press::{PrintModel, Stack};
use strikeoff_core::screens::ScreenName;
use strikeoff_core::units::MM_PER_INCH;
use strikeoff_core::usage::PressRun;

use super::{Look, PxRect};

/// The dot grids of a job's films made ready; kept until something that they depend on changes.
pub struct Dots {
    film: FilmSettings,
    press: PrintModel,
    run: PressRun,
    screens: Vec<(ScreenName, FilmDots, ToneTable)>,
}

impl Dots {
    /// The grids that the films of these screens have.
    pub fn new(level: &Level, look: &Look) -> Self {
        let film = look.film.clone();
        let screens = level.screens.list.iter().map(|screen| {
            let gain = look.press.gain.curve(film.gain_ruling(&screen.name));
            // What the film carries, less what the film printer adds to it, and what the press makes of that.
            let dots = dots_of_screen(&film, &look.run, &screen.name);
            let tone = ToneTable::for_film(look.press.compensate.then_some(&gain), &dots, None).printed(&gain);
            (screen.name.clone(), FilmDots::of_screen(&film, &screen.name, false), tone)
        });
        Self { screens: screens.collect(), press: look.press.clone(), run: look.run.clone(), film }
    }

    /// Whether the grids still are those of these screens.
    pub fn fits(&self, level: &Level, look: &Look) -> bool {
        let names = level.screens.list.iter().map(|s| &s.name);
        self.film == look.film
            && self.press == look.press
            && self.run == look.run
            && names.eq(self.screens.iter().map(|s| &s.0))
    }

    /// Device pixels of the whole print.
    pub fn size_px(level: &Level, film: &FilmSettings) -> [usize; 2] {
        let dpi = [film.dpi, film.dpi_down.unwrap_or(film.dpi)];
        let [w, h] = level.size_px();
        [(w, dpi[0]), (h, dpi[1])]
            .map(|(px, dpi)| ((px as f64 * dpi.get() / level.screens.ppi.get()).round() as usize).max(1))
    }

    /// The mean light of a disc about a place (parts of the print), `across_mm` wide.
    pub fn disc(&self, level: &Level, look: &Look, place: [f64; 2], across_mm: f64) -> LinRgb {
        let [width_px, height_px] = Self::size_px(level, &self.film);
        let dpi = [self.film.dpi, self.film.dpi_down.unwrap_or(self.film.dpi)];
        let middle = [place[0] * width_px as f64, place[1] * height_px as f64];
        let radius = dpi.map(|dpi| 0.5 * across_mm / MM_PER_INCH * dpi.get());
        let span = |axis: usize, most: usize| {
            let from = (middle[axis] - radius[axis]).max(0.0) as usize;
            from..((middle[axis] + radius[axis]).ceil().max(0.0) as usize).min(most)
        };
        let shown: Vec<_> =
            level.screens.list.iter().zip(&self.screens).filter(|(s, _)| !look.hidden.contains(&s.name)).collect();
        let stack = Stack::of_inks(&look.ground(), shown.iter().map(|(s, _)| (s.name.as_str(), &s.ink, s.hits)));
        let fields: Vec<Field<'_>> =
            shown.iter().map(|(s, (_, grid, tone))| Field::new(&s.coverage, tone, grid, width_px, height_px)).collect();
        let mut cursors: Vec<FieldCursor> = fields.iter().map(|_| FieldCursor::default()).collect();
        let mut bits = vec![vec![0u64; width_px.div_ceil(64)]; fields.len()];
        let (mut sum, mut count) = ([0.0f64; 3], 0.0f64);
        for y in span(1, height_px) {
            for ((field, cursor), bits) in fields.iter().zip(&mut cursors).zip(&mut bits) {
                field.row(y, cursor, bits);
            }
            let down = (y as f64 + 0.5 - middle[1]) / radius[1];
            for x in span(0, width_px).filter(|&x| ((x as f64 + 0.5 - middle[0]) / radius[0]).hypot(down) < 1.0) {
                let mut r = stack.garment;
                for (layer, bits) in stack.layers.iter().zip(&bits) {
                    if bits[x / 64] >> (x % 64) & 1 == 1 {
                        r = layer.over(r);
                    }
                }
                (0..3).for_each(|band| sum[band] += f64::from(r[band]));
                count += 1.0;
            }
        }
        sum.map(|sum| (sum / count.max(1.0)) as f32)
    }

    /// Draws `window`, given in pixels of `step` by `step` device pixels each.
    pub fn draw(&self, level: &Level, look: &Look, window: PxRect, step: usize) -> ColorImage {
        let [width_px, height_px] = Self::size_px(level, &self.film);
        let shown: Vec<_> =
            level.screens.list.iter().zip(&self.screens).filter(|(s, _)| !look.hidden.contains(&s.name)).collect();
        let list = shown.iter().map(|(s, _)| (s.name.as_str(), &s.ink, s.hits));
        let stack = Stack::of_inks(&look.ground(), list);
        let fields: Vec<Field<'_>> =
            shown.iter().map(|(s, (_, grid, tone))| Field::new(&s.coverage, tone, grid, width_px, height_px)).collect();
        let mut image = ColorImage::filled([window.width, window.height], Color32::TRANSPARENT);
        let rows = image.pixels.par_chunks_mut(window.width.max(1)).enumerate();
        let words = width_px.div_ceil(64);
        rows.for_each_init(
            || {
                (
                    fields.iter().map(|_| FieldCursor::default()).collect::<Vec<_>>(),
                    vec![vec![0u64; words]; fields.len()],
                )
            },
            |(cursors, bits), (row, out)| {
                let mut light = vec![[0.0f32; 3]; out.len()];
                let mut count = vec![0.0f32; out.len()];
                for y in ((window.y + row) * step..(window.y + row + 1) * step).take_while(|&y| y < height_px) {
                    for ((field, cursor), bits) in fields.iter().zip(cursors.iter_mut()).zip(bits.iter_mut()) {
                        field.row(y, cursor, bits);
                    }
                    for (x, (light, count)) in light.iter_mut().zip(&mut count).enumerate() {
                        let from = (window.x + x) * step;
                        for x in (from..from + step).take_while(|&x| x < width_px) {
                            let mut r = stack.garment;
                            for (layer, bits) in stack.layers.iter().zip(bits.iter()) {
                                if bits[x / 64] >> (x % 64) & 1 == 1 {
                                    r = layer.over(r);
                                }
                            }
                            for (sum, r) in light.iter_mut().zip(r) {
                                *sum += r;
                            }
                            *count += 1.0;
                        }
                    }
                }
                for ((out, light), count) in out.iter_mut().zip(light).zip(count) {
                    let [r, g, b] = encode_u16(light.map(|l| l / count.max(1.0)));
                    *out = Color32::from_rgb((r >> 8) as u8, (g >> 8) as u8, (b >> 8) as u8);
                }
            },
        );
        image
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::render::View;
    use crate::render::draw;
    use strikeoff_core::color::Rgb8;
    use strikeoff_core::ink::{Garment, Ink, InkRole};
    use strikeoff_core::prep::Prepared;
    use strikeoff_core::raster::{Picture, Plane};
    use strikeoff_core::screens::{Screen, Screens};
    use strikeoff_core::units::{Opacity, Ppi};

    /// A 40 % tint of black, as dots and averaged over all of them, prints its 40 %: the film's dots are smaller, and
    /// the press makes up for it.
    #[test]
    fn dots_average_to_the_tone_that_prints() {
        let opacity = Opacity::new(1.0).unwrap();
        let ink = Ink {
            name: "k".into(),
            over_white: Rgb8([0; 3]),
            opacity,
            role: InkRole::Black,
            measured: false,
            spectra: None,
        };
        let ppi = Ppi::new(150.0).unwrap();
        let coverage = Plane::filled(300, 300, 26_214);
        let screen = Screen { name: "k".into(), ink, hits: 1, coverage };
        let picture = Picture::new(Plane::filled(300, 300, [65_535; 4]));
        let prepared = Prepared { picture, ppi, print_size_mm: [50.8, 50.8], true_ppi: 150.0 };
        let screens = Screens { width: 300, height: 300, ppi, list: vec![screen] };
        let level = Level { prepared: Arc::new(prepared), screens: Arc::new(screens) };
        let look = Look {
            view: View::Dots,
            garment: Garment::of_color(Rgb8([255; 3])),
            left_out: std::collections::BTreeSet::new(),
            press: PrintModel::default(),
            film: FilmSettings::default(),
            run: Default::default(),
            hidden: Default::default(),
            screen: None,
            drifts: Default::default(),
            bands: None,
        };
        let dots = Dots::new(&level, &look);
        assert!(dots.fits(&level, &look));
        let [w, h] = Dots::size_px(&level, &look.film);
        assert_eq!([w, h], [1440, 1440]);
        let image = dots.draw(&level, &look, PxRect { x: 0, y: 0, width: w, height: h }, 1);
        let black = image.pixels.iter().filter(|p| p.r() < 128).count() as f64 / image.pixels.len() as f64;
        assert!((black - 0.4).abs() < 0.01, "{black} of the print is ink, expected 0.4");
        // Far away, dots give way to the continuous proof.
        let far = draw(&level, &look, PxRect { x: 0, y: 0, width: 300, height: 300 });
        assert!(far.pixels.iter().all(|p| *p == far.pixels[0]));
    }
}
