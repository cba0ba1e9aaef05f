//! Lays a screen out on its film: the print at true scale, margins, marks, label and wedge.

use strikeoff_core::halftone::{DeviceGrid, DotGrid, Emulsion, Field, ToneTable};
use strikeoff_core::job::{Job, Screen, Screens};
use strikeoff_core::raster::Plane;
use strikeoff_core::units::MM_PER_INCH;

use super::furniture::{LEAST_MARGIN_MM, Sheet};
use super::label::label;
use super::page::{FilmPage, Placed};
use super::write::FilmError;

/// What every film of a set shares, and what one screen's needs beside its pixels.
pub struct ScreenSet {
    grid: DotGrid,
    tone: ToneTable,
    wedge_tone: ToneTable,
    steps: Vec<Plane<u16>>,
    device: DeviceGrid,
}

impl ScreenSet {
    /// Prepares one screen's dots and tones.
    pub fn new(job: &Job, screen: &Screen) -> Result<Self, FilmError> {
        let film = &job.film;
        let (ruling, angle, dot) = film.of_screen(&screen.name);
        dot.check().map_err(FilmError::Settings)?;
        let device = DeviceGrid { x_dpi: film.dpi, y_dpi: film.dpi_down.unwrap_or(film.dpi) };
        let least = device.x_dpi.get().min(device.y_dpi.get());
        if least < 4.0 * ruling.get() {
            return Err(FilmError::Settings(format!(
                "screen \"{}\": {least} dpi leaves under 4 device dots across a {ruling} lpi halftone dot; use a \
                 finer film printer or a coarser ruling",
                screen.name
            )));
        }
        if film.limits.smallest.get() > film.limits.largest.get() {
            return Err(FilmError::Settings("the smallest dot is larger than the largest; swap them".into()));
        }
        let gain = job.press.compensate.then(|| job.press.gain.curve(ruling));
        let linearisation = film.linearisation.as_ref();
        Ok(Self {
            grid: DotGrid::new(device, ruling, angle, &dot),
            tone: ToneTable::for_film(gain.as_ref(), &film.limits, linearisation),
            // The wedge is there to measure the press with, so it carries its tones uncompensated.
            wedge_tone: ToneTable::for_film(None, &Default::default(), linearisation),
            steps: (0..=100u32).map(|percent| Plane::filled(1, 1, (percent * 65_535 / 100) as u16)).collect(),
            device,
        })
    }

    /// The film of a screen. What its label could not hold is put into `lost`.
    pub fn page<'a>(
        &'a self,
        job: &Job,
        screens: &Screens,
        screen: &'a Screen,
        place: (usize, usize),
        lost: &mut Vec<String>,
    ) -> Result<FilmPage<'a>, FilmError> {
        let film = &job.film;
        let dpi = [self.device.x_dpi.get(), self.device.y_dpi.get()];
        let margin_mm = film.margin.get();
        let furnished = film.marks || film.label || film.wedge;
        if furnished && margin_mm < LEAST_MARGIN_MM {
            return Err(FilmError::Settings(format!(
                "a margin of {margin_mm} mm holds no marks, label or wedge; use {LEAST_MARGIN_MM} mm or more, or turn \
                 them off"
            )));
        }
        let pixels = |source: usize, dpi: f64| (source as f64 / screens.ppi.get() * dpi).round().max(1.0) as usize;
        let margin = dpi.map(|dpi| film.margin.px(dpi).round() as usize);
        let print = [pixels(screens.width, dpi[0]), pixels(screens.height, dpi[1])];
        let (width_px, height_px) = (print[0] + 2 * margin[0], print[1] + 2 * margin[1]);
        let mm = |px: usize, axis: usize| px as f64 / dpi[axis] * MM_PER_INCH;
        let px = |mm: f64, axis: usize| (mm / MM_PER_INCH * dpi[axis]).round() as usize;
        let sheet = Sheet {
            width_mm: mm(width_px, 0),
            height_mm: mm(height_px, 1),
            left_mm: mm(margin[0], 0),
            top_mm: mm(margin[1], 1),
            print_width_mm: mm(print[0], 0),
            print_height_mm: mm(print[1], 1),
        };
        let mut fields = vec![Placed {
            field: Field::new(&screen.coverage, &self.tone, &self.grid, print[0], print[1]),
            x_px: margin[0],
            y_px: margin[1],
        }];
        let mut shapes = Vec::new();
        if film.marks {
            sheet.marks(&mut shapes);
        }
        if film.label {
            let words = label(job, screen, place.0, place.1);
            lost.extend(sheet.label(&words.heading, &words.left, &words.right, &mut shapes));
        }
        if film.wedge {
            for patch in sheet.wedge(&mut shapes) {
                let step = &self.steps[patch.percent as usize];
                let (width, height) = (px(patch.side_mm, 0), px(patch.side_mm, 1));
                fields.push(Placed {
                    field: Field::new(step, &self.wedge_tone, &self.grid, width, height),
                    x_px: px(patch.x_mm, 0),
                    y_px: px(patch.y_mm, 1),
                });
            }
        }
        let mirrored = film.emulsion == Emulsion::Down;
        Ok(FilmPage { width_px, height_px, fields, shapes, dpi, mirrored, reversed: film.reverse })
    }
}
