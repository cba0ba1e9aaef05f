//! The calibration print of a press: a job whose films carry the patches of `core::fingerprint::design`, each with its
//! number, between marks in the corners. It is printed twice, wet on wet and with a flash after every ink; a table of
//! readings, by number, becomes the patches of a fingerprint.

use std::path::PathBuf;

mod read;

pub use read::{ReadPrint, read_patches, readings_from_text, strip};

use strikeoff_core::fingerprint::{AssumedInk, MOST_INKS, Planned, design};
use strikeoff_core::ink::{Garment, Ink};
use strikeoff_core::job::Job;
use strikeoff_core::press::{Ground, PrintModel, proof_from_screens};
use strikeoff_core::raster::Plane;
use strikeoff_core::screens::{Screen, Screens};
use strikeoff_core::units::{MM_PER_INCH, Ppi};

use crate::art::ArtError;
use crate::calibration::{job_to_measure, stands_out};
use crate::job::JobFile;
use crate::measured::MeasuredError;
use crate::photo::{Layout, PhotoError, corner_mark};

const PPI: f64 = 100.0;
const PATCH_MM: f64 = 14.0;
const GAP_MM: f64 = 8.0;
const MARGIN_MM: f64 = 16.0;
const DOT_MM: f64 = 1.0;
const COLUMNS: usize = 10;

/// A print that cannot be made or read.
#[derive(Debug, thiserror::Error)]
pub enum PressPrintError {
    /// Too few or too many inks.
    #[error("a fingerprint is taken of 1 to {MOST_INKS} inks, not {0}")]
    Inks(usize),
    /// The job is something else.
    #[error(
        "this job is no calibration print of a press; make one with: strikeoff calibrate --fingerprint --inks .. -o JOB"
    )]
    NoPrint,
    /// The readings cannot be read.
    #[error(transparent)]
    Measured(#[from] MeasuredError),
    /// A photograph that is not good enough.
    #[error("{}: {source}", path.display())]
    Photo {
        /// The file.
        path: PathBuf,
        /// Why.
        source: PhotoError,
    },
    /// A strip's values that are none.
    #[error("{}: {source}", path.display())]
    Strip {
        /// The file.
        path: PathBuf,
        /// Why.
        source: PhotoError,
    },
    /// A picture that cannot be opened.
    #[error(transparent)]
    Picture(#[from] ArtError),
    /// Options of a photograph with a table.
    #[error("the flashed print's photograph and the strip's values go with a photograph, and {} is none", .0.display())]
    NoPhoto(PathBuf),
    /// A reading that names no patch.
    #[error(
        "\"{0}\" is no patch; name readings by number, 12 on the wet print and 12f on the flashed one, 0 for the bare garment"
    )]
    NoPatch(String),
    /// A patch that is not read on this print.
    #[error("patch {0} is not on the print")]
    Beyond(usize),
    /// A line of typed readings.
    #[error("line {line}: \"{text}\" is no reading; write a number and L* a* b*, for example: 12f 54.1 37.0 -8.2")]
    Line {
        /// From 1.
        line: usize,
        /// As found.
        text: String,
    },
}

/// Whether a garment swallows colours, so that patches stand on a base: the first ink is a white and the garment is not.
fn dark(inks: &[Ink], garment: &Garment) -> bool {
    !garment.is_white() && inks.first().is_some_and(Ink::is_white)
}

/// The patches of a print, numbered from 0, which is the bare garment.
pub fn patches(inks: &[Ink], garment: &Garment, readings: usize) -> Vec<Planned> {
    design(inks.len(), dark(inks, garment), readings)
}

/// Left and upper edge of a patch in mm.
fn place(at: usize) -> [f64; 2] {
    let step = PATCH_MM + GAP_MM;
    [MARGIN_MM + (at % COLUMNS) as f64 * step, MARGIN_MM + (at / COLUMNS) as f64 * step]
}

fn size(count: usize) -> [f64; 2] {
    let step = PATCH_MM + GAP_MM;
    let rows = count.div_ceil(COLUMNS);
    [2.0 * MARGIN_MM + COLUMNS as f64 * step - GAP_MM, 2.0 * MARGIN_MM + rows as f64 * step]
}

/// Where a camera or scanner finds so many patches, and bare garment between them.
pub fn layout(count: usize) -> Layout {
    let between = GAP_MM / 2.0;
    let fields = (0..count).map(|at| (place(at).map(|v| v + PATCH_MM / 2.0), PATCH_MM)).collect();
    let rows = count.div_ceil(COLUMNS);
    let step = PATCH_MM + GAP_MM;
    let bare = (0..=COLUMNS).flat_map(|column| (0..2 * rows).map(move |half| (column, half))).map(|(column, half)| {
        // Beside each patch and in the corners between four, clear of the numbers.
        let x = MARGIN_MM + column as f64 * step - between;
        let y = MARGIN_MM + (half / 2) as f64 * step + if half % 2 == 0 { PATCH_MM / 2.0 } else { PATCH_MM + between };
        ([x, y], between - 0.5)
    });
    Layout { size: size(count), fields, bare: bare.collect() }
}

/// A job that prints the patches for inks, in print order, on a garment, with films and press as `like` has them.
pub fn press_print(
    inks: &[Ink],
    garment: Garment,
    like: Option<&Job>,
    readings: usize,
) -> Result<JobFile, PressPrintError> {
    if !(1..=MOST_INKS).contains(&inks.len()) {
        return Err(PressPrintError::Inks(inks.len()));
    }
    let planned = patches(inks, &garment, readings);
    let mut job = job_to_measure(inks, garment, like);
    job.info.title = "Calibration print of the press".to_owned();
    let marks = stands_out(inks, &job.garment);
    let [width_mm, height_mm] = size(planned.len());
    let px = |mm: f64| (mm / MM_PER_INCH * PPI).round() as usize;
    let (width, height) = (px(width_mm), px(height_mm));
    let ppi = Ppi::new(PPI).unwrap_or_else(|_| unreachable!());
    let plane = |ink: usize| {
        Plane::from_fn(width, height, |x, y| {
            let at = [x, y].map(|v| (v as f64 + 0.5) * MM_PER_INCH / PPI);
            let tone = if ink == marks && is_mark(at, [width_mm, height_mm], planned.len()) {
                1.0
            } else {
                tone(at, &planned, ink)
            };
            (tone * 65535.0).round() as u16
        })
    };
    let screen = |(at, ink): (usize, &Ink)| Screen {
        name: ink.name.as_str().into(),
        ink: ink.clone(),
        hits: 1,
        coverage: plane(at),
    };
    let screens = Screens { width, height, ppi, list: inks.iter().enumerate().map(screen).collect() };
    let even = PrintModel { compensate: true, ..job.press.clone() };
    let picture = proof_from_screens(&screens, &Ground { press: &even, ..job.ground() }, |_| true);
    job.prep.ppi = ppi;
    let mut file = JobFile::new(job, "press-print.png", crate::picture::png_bytes(&picture, ppi));
    file.keep_screens(screens);
    Ok(file)
}

fn tone(at: [f64; 2], planned: &[Planned], ink: usize) -> f64 {
    let step = PATCH_MM + GAP_MM;
    let cell = at.map(|v| ((v - MARGIN_MM) / step).floor());
    if cell[0] < 0.0 || cell[1] < 0.0 || cell[0] as usize >= COLUMNS {
        return 0.0;
    }
    let index = cell[1] as usize * COLUMNS + cell[0] as usize;
    let [left, top] = place(index);
    let inside = at[0] - left < PATCH_MM && at[1] - top < PATCH_MM;
    planned.get(index).filter(|_| inside).map_or(0.0, |patch| patch.film[ink])
}

/// Digits, three dots across and five down, a row a line from the top.
const DIGITS: [[u8; 5]; 10] = [
    [7, 5, 5, 5, 7],
    [2, 6, 2, 2, 7],
    [7, 1, 7, 4, 7],
    [7, 1, 7, 1, 7],
    [5, 5, 7, 1, 1],
    [7, 4, 7, 1, 7],
    [7, 4, 7, 5, 7],
    [7, 1, 1, 1, 1],
    [7, 5, 7, 5, 7],
    [7, 5, 7, 1, 7],
];

/// Squares in the corners, the upper left one with a hole that tells which way is up, and the number under each patch.
fn is_mark(at: [f64; 2], size: [f64; 2], count: usize) -> bool {
    if let Some(ink) = corner_mark(at, size) {
        return ink;
    }
    let step = PATCH_MM + GAP_MM;
    let cell = at.map(|v| ((v - MARGIN_MM) / step).floor());
    if cell[0] < 0.0 || cell[1] < 0.0 || cell[0] as usize >= COLUMNS {
        return false;
    }
    let index = cell[1] as usize * COLUMNS + cell[0] as usize;
    let [left, top] = place(index);
    let dot = [(at[0] - left) / DOT_MM, (at[1] - top - PATCH_MM - 1.0) / DOT_MM].map(f64::floor);
    if index >= count || dot[0] < 0.0 || !(0.0..5.0).contains(&dot[1]) {
        return false;
    }
    let digits: Vec<usize> = index.to_string().bytes().map(|b| usize::from(b - b'0')).collect();
    let (letter, column) = (dot[0] as usize / 4, dot[0] as usize % 4);
    column < 3 && digits.get(letter).is_some_and(|digit| DIGITS[*digit][dot[1] as usize] >> (2 - column) & 1 == 1)
}

/// What a print's job says of it: its inks as assumed, and its patches. The films are what counts: a job whose films are
/// not of this design is none.
pub fn print_of(job: &Job, screens: &Screens) -> Result<(Vec<AssumedInk>, Vec<Planned>), PressPrintError> {
    let inks: Vec<Ink> = screens.list.iter().map(|s| s.ink.clone()).collect();
    if !job.run.calibration || !(1..=MOST_INKS).contains(&inks.len()) {
        return Err(PressPrintError::NoPrint);
    }
    let px = |mm: f64| (mm / MM_PER_INCH * PPI) as usize;
    let fits = |planned: &[Planned]| {
        let [width, height] = size(planned.len()).map(|mm| (mm / MM_PER_INCH * PPI).round() as usize);
        (screens.width, screens.height) == (width, height)
            && planned.iter().enumerate().all(|(at, patch)| {
                let [x, y] = place(at).map(|mm| px(mm + PATCH_MM / 2.0));
                let seen = |ink: usize| f64::from(screens.list[ink].coverage.get(x, y)) / 65535.0;
                (0..inks.len()).all(|ink| (seen(ink) - patch.film[ink]).abs() < 0.002)
            })
    };
    // Any number of readings that was asked for, each patch read once or twice. A print holds all smaller ones that
    // take as many rows: the largest is it.
    let rows = (screens.height as f64 / PPI * MM_PER_INCH / (PATCH_MM + GAP_MM)).ceil() as usize;
    let numbers = (1..=2 * COLUMNS * rows.min(50)).rev();
    let planned = numbers.map(|readings| patches(&inks, &job.garment, readings)).find(|planned| fits(planned));
    Ok((inks.iter().map(AssumedInk::of).collect(), planned.ok_or(PressPrintError::NoPrint)?))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shelf::house_shelf;
    use strikeoff_core::Progress;
    use strikeoff_core::fingerprint::MOST_READINGS;
    use strikeoff_core::press::pairs_on_a_lattice;

    fn inks(names: &[&str]) -> Vec<Ink> {
        names.iter().map(|name| house_shelf().find(name).unwrap().clone()).collect()
    }

    #[test]
    fn a_print_is_known_by_its_films_when_opened_again() {
        let inks = inks(&["Base white", "Golden yellow", "Brick red"]);
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("print.strikeoff");
        for (garment, readings) in [("#FFFFFF", MOST_READINGS), ("#17171A", 20)] {
            let file = press_print(&inks, Garment::of_color(garment.parse().unwrap()), None, readings).unwrap();
            crate::job::save_job(&path, &file).unwrap();
            let mut opened = crate::job::open_job(&path).unwrap();
            let screens = opened.evaluated(&Progress::none()).unwrap().screens;
            let (assumed, planned) = print_of(&opened.job, &screens).unwrap();
            // Overprints are to meet by chance: no two films share an angle.
            let ground = opened.job.ground();
            assert!(pairs_on_a_lattice(ground.meetings, screens.list.iter().map(|s| s.name.as_str())).is_empty());
            assert_eq!(assumed.len(), 3);
            assert_eq!(planned, patches(&inks, &opened.job.garment, readings));
            opened.job.run.calibration = false;
            assert!(print_of(&opened.job, &screens).is_err());
        }
    }

    #[test]
    fn readings_name_their_patch_and_print() {
        let inks = inks(&["Golden yellow", "Brick red"]);
        let planned = patches(&inks, &Garment::of_color("#FFFFFF".parse().unwrap()), MOST_READINGS);
        let readings = readings_from_text("# typed\n0 95 0 -2\n2;50;40;30\n9f\t40 30 20\n").unwrap();
        let read = read_patches(&readings, &planned).unwrap();
        assert!(read[0].tint.is_bare() && read[1].tint.film == [0.0, 1.0] && read[2].tint.film == [1.0, 1.0]);
        assert_ne!(read[1].tint.flashed, read[2].tint.flashed);
        for (text, says) in [("x 1 2 3", "is no patch"), ("999 1 2 3", "not on the print"), ("1 2 3", "line 1")] {
            let said = readings_from_text(text).and_then(|r| read_patches(&r, &planned)).unwrap_err().to_string();
            assert!(said.contains(says), "{said}");
        }
    }
}
