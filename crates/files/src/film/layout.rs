//! Lays a screen out on its film: the print at true scale, margins, marks, label and wedge. A film
//! is laid out upright and put on its page upright or turned a right angle clockwise.

use strikeoff_core::halftone::{Dots, Field, FilmSettings, ScreenDots, ToneTable};
use strikeoff_core::job::Job;
use strikeoff_core::raster::Plane;
use strikeoff_core::screens::ScreenName;
use strikeoff_core::screens::{Screen, Screens};
use strikeoff_core::units::MM_PER_INCH;

use super::furniture::{LEAST_MARGIN_MM, Sheet};
use super::label::label;
use super::options::FilmError;
use super::page::{FilmArea, FilmPage, Placed};

/// Refuses film settings that cannot be followed for these screens.
pub fn check_settings<'a>(film: &FilmSettings, names: impl Iterator<Item = &'a ScreenName>) -> Result<(), FilmError> {
    let refuse = |text: String| Err(FilmError::Settings(text));
    let device = film.device();
    let least = device.x_dpi.get().min(device.y_dpi.get());
    for name in names {
        let (ruling, _, dot) = film.of_screen(name);
        dot.check().map_err(FilmError::Settings)?;
        match dot.size_mm() {
            None if least < 4.0 * ruling.get() => {
                return refuse(format!(
                    "screen \"{name}\": {least} dpi leaves under 4 device dots across a {ruling} lpi halftone dot; \
                     use a finer film printer or a coarser ruling"
                ));
            }
            Some(size) if size.px(least) < 1.0 => {
                return refuse(format!(
                    "screen \"{name}\": a dot of {size} mm is smaller than one of the film printer's at {least} dpi; \
                     use larger dots or a finer film printer"
                ));
            }
            _ => {}
        }
    }
    if film.limits.smallest.is_some_and(|smallest| smallest.get() > film.limits.largest.get()) {
        return refuse("the smallest dot is larger than the largest; swap them".into());
    }
    let margin_mm = film.margin.get();
    if (film.marks || film.label || film.wedge) && margin_mm < LEAST_MARGIN_MM {
        return refuse(format!(
            "a margin of {margin_mm} mm holds no marks, label or wedge; use {LEAST_MARGIN_MM} mm or more, or turn \
             them off"
        ));
    }
    Ok(())
}

/// A film's measures, upright.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measures {
    /// Device pixels an inch across and down the upright film.
    dpi: [f64; 2],
    margin_px: [usize; 2],
    print_px: [usize; 2],
    sideways: bool,
}

impl Measures {
    /// Of the films of these screens.
    pub fn new(film: &FilmSettings, screens: &Screens, sideways: bool) -> Self {
        let device = film.device();
        let mut dpi = [device.x_dpi.get(), device.y_dpi.get()];
        if sideways {
            dpi.reverse();
        }
        let pixels = |source: usize, dpi: f64| (source as f64 / screens.ppi.get() * dpi).round().max(1.0) as usize;
        Self {
            dpi,
            margin_px: dpi.map(|dpi| film.margin.px(dpi).round() as usize),
            print_px: [pixels(screens.width, dpi[0]), pixels(screens.height, dpi[1])],
            sideways,
        }
    }

    /// Device pixels across and down the upright film.
    fn upright_px(&self) -> [usize; 2] {
        [0, 1].map(|axis| self.print_px[axis] + 2 * self.margin_px[axis])
    }

    /// Device pixels that the film takes on its page.
    pub fn page_px(&self) -> [usize; 2] {
        let [width, height] = self.upright_px();
        if self.sideways { [height, width] } else { [width, height] }
    }

    /// Size of the upright film.
    pub fn film_mm(&self) -> [f64; 2] {
        let px = self.upright_px();
        [0, 1].map(|axis| px[axis] as f64 / self.dpi[axis] * MM_PER_INCH)
    }

    fn sheet(&self) -> Sheet {
        let mm = |px: [usize; 2]| [0, 1].map(|axis| px[axis] as f64 / self.dpi[axis] * MM_PER_INCH);
        let ([width_mm, height_mm], [left_mm, top_mm]) = (self.film_mm(), mm(self.margin_px));
        let [print_width_mm, print_height_mm] = mm(self.print_px);
        Sheet { width_mm, height_mm, left_mm, top_mm, print_width_mm, print_height_mm }
    }

    fn px(&self, mm: f64, axis: usize) -> usize {
        (mm / MM_PER_INCH * self.dpi[axis]).round() as usize
    }
}

/// One screen's dots and tones.
pub struct ScreenSet {
    dots: Dots,
    tone: ToneTable,
    wedge_tone: ToneTable,
    steps: Vec<Plane<u16>>,
}

impl ScreenSet {
    /// Prepares them.
    pub fn new(job: &Job, screen: &Screen, sideways: bool) -> Self {
        let film = &job.film;
        let gain = job.press.compensate.then(|| job.press.gain.curve(film.gain_ruling(&screen.name)));
        let linearisation = film.linearisation.as_ref();
        Self {
            dots: Dots::of_screen(film, &screen.name, sideways),
            tone: ToneTable::for_film(gain.as_ref(), &job.dots_of(&screen.name), linearisation),
            // The wedge is there to measure the press with, so it carries its tones uncompensated.
            wedge_tone: ToneTable::for_film(None, &ScreenDots::ALL, linearisation),
            steps: (0..=100u32).map(|percent| Plane::filled(1, 1, (percent * 65_535 / 100) as u16)).collect(),
        }
    }

    /// Puts the film of a screen on a page, its upper left corner at `at_px`. What its label could
    /// not hold is returned.
    pub fn put<'a>(
        &'a self,
        job: &Job,
        (screen, index, count): (&'a Screen, usize, usize),
        measures: &Measures,
        at_px: [usize; 2],
        page: &mut FilmPage<'a>,
    ) -> Vec<String> {
        let film = &job.film;
        let [_, height_px] = measures.upright_px();
        let sheet = measures.sheet();
        // A rectangle of the upright film as a field on the page.
        let mut place = |plane: &'a Plane<u16>, tone: &'a ToneTable, [x, y]: [usize; 2], [w, h]: [usize; 2]| {
            let (x, y, w, h) = if measures.sideways { (height_px - y - h, x, h, w) } else { (x, y, w, h) };
            let field = Field::new(plane, tone, &self.dots, w, h);
            page.fields.push(Placed { field, x_px: at_px[0] + x, y_px: at_px[1] + y });
        };
        place(&screen.coverage, &self.tone, measures.margin_px, measures.print_px);
        let mut shapes = Vec::new();
        let mut lost = Vec::new();
        if film.marks {
            sheet.marks(&mut shapes);
        }
        if film.label {
            let words = label(job, screen, index, count);
            lost = sheet.label(&words.heading, &words.left, &words.right, &mut shapes);
        }
        if film.wedge {
            for patch in sheet.wedge(&mut shapes) {
                let side = [0, 1].map(|axis| measures.px(patch.side_mm, axis));
                let at = [measures.px(patch.x_mm, 0), measures.px(patch.y_mm, 1)];
                place(&self.steps[patch.percent as usize], &self.wedge_tone, at, side);
            }
        }
        let at_mm = [0, 1].map(|axis| at_px[axis] as f64 / page.dpi[axis] * MM_PER_INCH);
        page.shapes.extend(shapes.into_iter().map(|s| s.placed(at_mm, measures.sideways, sheet.height_mm)));
        let [width_px, height_px] = measures.page_px();
        page.films.push(FilmArea { x_px: at_px[0], y_px: at_px[1], width_px, height_px });
        lost
    }
}
