//! A good day and a bad day on press: the same screens, out of register and printing
//! heavier or lighter. Feed the result to the proof.

use rayon::prelude::*;

use std::collections::BTreeMap;

use crate::facts::heavier;
use crate::halftone::FilmSettings;
use crate::press::{DotGrids, Lattice, Meetings};
use crate::raster::Plane;
use crate::screens::{Screen, ScreenName, Screens};
use crate::units::{MM_PER_INCH, Ppi};

/// How one screen prints on the day.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Drift {
    /// Shift to the right and down in mm.
    pub shift_mm: [f64; 2],
    /// Points of gain at half tone more (or less) than expected, -25..=25.
    pub points: f64,
}

/// How one screen prints on the day, made ready for planes of one resolution: rows are taken from
/// beside where they should be, between pixels where the shift is no whole number of them, and
/// bent by the points of gain. Whole planes and windows of a picture come from this one place.
#[derive(Debug, Clone)]
pub struct Drifted {
    shift_px: [f64; 2],
    /// Coverage at every 257th code, straight between.
    tone: Option<Vec<u16>>,
}

impl Drifted {
    /// For planes of a resolution.
    pub fn new(drift: Drift, ppi: Ppi) -> Self {
        let px = ppi.get() / MM_PER_INCH;
        // Hundredths of a pixel are nothing: a whole number of pixels stays one.
        let shift_px = drift.shift_mm.map(|mm| (mm * px * 100.0).round() / 100.0);
        let tone = (drift.points != 0.0).then(|| {
            (0..=255u16)
                .map(|v| (heavier(f32::from(v) / 255.0, (drift.points / 100.0) as f32) * 65535.0).round() as u16)
                .collect()
        });
        Self { shift_px, tone }
    }

    /// Pixels `from..from + out.len()` of row `y` of the print, from the screen's plane. What comes
    /// in over the edge is bare.
    pub fn row(&self, plane: &Plane<u16>, y: usize, from: usize, out: &mut [u16]) {
        let (w, h) = (plane.width() as i64, plane.height() as i64);
        let whole = self.shift_px.map(f64::floor);
        let part = [self.shift_px[0] - whole[0], self.shift_px[1] - whole[1]];
        let part = part.map(|p| (p * 256.0).round() as u32);
        let (dx, v) = (whole[0] as i64, y as i64 - whole[1] as i64);
        let line = |v: i64| (v >= 0 && v < h).then(|| plane.row(v as usize));
        // A shift by a part of a pixel to the right and down takes so much of the pixels before.
        let (here, above) = (line(v), line(v - 1));
        let take = |row: Option<&[u16]>, u: i64| match row {
            Some(row) if u >= 0 && u < w => u32::from(row[u as usize]),
            _ => 0,
        };
        for (x, out) in out.iter_mut().enumerate() {
            let u = (from + x) as i64 - dx;
            let across = |row| (take(row, u) * (256 - part[0]) + take(row, u - 1) * part[0]) >> 8;
            let value = if part[1] == 0 {
                across(here)
            } else {
                (across(here) * (256 - part[1]) + across(above) * part[1]) >> 8
            };
            *out = self.bend(value as u16);
        }
    }

    fn bend(&self, v: u16) -> u16 {
        let Some(table) = &self.tone else { return v };
        // Straight between the table's entries, so that no tone is lost.
        let (low, part) = (usize::from(v / 257), u32::from(v % 257));
        let (a, b) = (u32::from(table[low]), u32::from(table[(low + 1).min(255)]));
        ((a * (257 - part) + b * part) / 257) as u16
    }
}

/// Where dots lie on the day: those of the job's films, each screen's shifted as it prints.
#[derive(Debug)]
pub struct DotsOnTheDay<'a> {
    film: &'a FilmSettings,
    shifts: BTreeMap<ScreenName, [f64; 2]>,
}

impl<'a> DotsOnTheDay<'a> {
    /// Those of the screens of a job; `drift` is called for each by its place in the order.
    pub fn new(film: &'a FilmSettings, screens: &Screens, drift: impl Fn(usize) -> Drift) -> Self {
        let shifts = screens.list.iter().enumerate().map(|(at, screen)| (screen.name.clone(), drift(at).shift_mm));
        Self { film, shifts: shifts.collect() }
    }

    /// How they meet: register is what it is.
    pub fn meetings(&self) -> Meetings<'_> {
        Meetings { dots: self, register_mm: 0.0 }
    }
}

impl DotGrids for DotsOnTheDay<'_> {
    fn lattice(&self, screen: &str) -> Option<Lattice> {
        self.film.lattice(screen)
    }

    fn shift_mm(&self, screen: &str) -> [f64; 2] {
        self.shifts.get(&ScreenName::from(screen)).copied().unwrap_or_default()
    }
}

/// The screens as they print on the day; `drift` is called for each by its place in the order.
pub fn on_the_day(screens: &Screens, drift: impl Fn(usize) -> Drift) -> Screens {
    let list = screens
        .list
        .iter()
        .enumerate()
        .map(|(at, screen)| {
            let drifted = Drifted::new(drift(at), screens.ppi);
            let plane = &screen.coverage;
            let mut coverage = Plane::filled(plane.width(), plane.height(), 0);
            let rows = coverage.data_mut().par_chunks_mut(plane.width().max(1));
            rows.enumerate().for_each(|(y, out)| drifted.row(plane, y, 0, out));
            Screen { name: screen.name.clone(), ink: screen.ink.clone(), hits: screen.hits, coverage }
        })
        .collect();
    Screens { width: screens.width, height: screens.height, ppi: screens.ppi, list }
}

/// A bad day: screens are out of register by `shift_mm` in turn to the right, down, left and up, and print
/// `points` heavier and lighter by turns. The first screen stays where it is: it is what the
/// others are registered to.
pub fn bad_day(shift_mm: f64, points: f64) -> impl Fn(usize) -> Drift {
    move |at| {
        let shift_mm = match at {
            0 => [0.0, 0.0],
            n if n % 4 == 1 => [shift_mm, 0.0],
            n if n % 4 == 2 => [0.0, shift_mm],
            n if n % 4 == 3 => [-shift_mm, 0.0],
            _ => [0.0, -shift_mm],
        };
        Drift { shift_mm, points: if at % 2 == 0 { points } else { -points } }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ink::Ink;

    fn screens() -> Screens {
        let ink: Ink = serde_json::from_str(r##"{"name":"a","over_white":"#000000","opacity":0.9}"##).unwrap();
        let coverage = Plane::from_fn(40, 30, |x, y| ((x * 1600 + y * 17) % 65536) as u16);
        let screen = |name: &str| Screen { name: name.into(), ink: ink.clone(), hits: 1, coverage: coverage.clone() };
        Screens { width: 40, height: 30, ppi: Ppi::new(254.0).unwrap(), list: vec![screen("a"), screen("b")] }
    }

    #[test]
    fn a_good_day_changes_nothing() {
        let screens = screens();
        assert_eq!(on_the_day(&screens, |_| Drift::default()), screens);
    }

    /// Half a pixel is the mean of two, and a window of a row is a part of the whole row.
    #[test]
    fn parts_of_a_pixel_are_blended_and_windows_agree() {
        let screens = screens();
        let plane = &screens.list[0].coverage;
        let half = Drifted::new(Drift { shift_mm: [0.05, 0.0], points: 0.0 }, screens.ppi);
        let mut row = vec![0; 40];
        half.row(plane, 7, 0, &mut row);
        for (x, &got) in row.iter().enumerate().skip(1) {
            let mean = (u32::from(plane.get(x, 7)) + u32::from(plane.get(x - 1, 7))) / 2;
            assert!(u32::from(got).abs_diff(mean) <= 1);
        }
        let both = Drifted::new(Drift { shift_mm: [0.13, -0.27], points: -8.0 }, screens.ppi);
        let (mut all, mut some) = (vec![0; 40], vec![0; 11]);
        both.row(plane, 9, 0, &mut all);
        both.row(plane, 9, 20, &mut some);
        assert_eq!(all[20..31], some);
    }

    #[test]
    fn a_bad_day_shifts_by_mm_and_bends_the_middle_tones() {
        let screens = screens();
        let bad = on_the_day(&screens, bad_day(0.2, 10.0));
        // 0.2 mm at 254 ppi are two pixels to the right for the second screen.
        assert_eq!(bad.list[1].coverage.get(1, 5), 0);
        let (meant, got) = (screens.list[1].coverage.get(20, 5), bad.list[1].coverage.get(22, 5));
        let a = f64::from(meant) / 65535.0;
        assert!((f64::from(got) / 65535.0 - (a - 0.4 * a * (1.0 - a))).abs() < 1e-3);
        // The first screen stays and gains.
        let (meant, got) = (screens.list[0].coverage.get(20, 5), bad.list[0].coverage.get(20, 5));
        assert!(got > meant);
    }
}
