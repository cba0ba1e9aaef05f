//! What a set of films will be before it is made: which pages, which film lies where on them, which
//! files and about how large. The window shows it, and making films follows it, so that both agree.

use strikeoff_core::halftone::FilmSettings;
use strikeoff_core::job::Job;
use strikeoff_core::raster::Plane;
use strikeoff_core::screens::ScreenName;
use strikeoff_core::screens::Screens;
use strikeoff_core::units::MM_PER_INCH;

use super::composite::MOST_COLORANTS;
use super::gang::pack;
use super::layout::{Measures, check_settings};
use super::names::numbered_name;
use super::options::{FilmError, FilmOptions, SpotDepth};
use super::tiff::TiffCompression;

/// Name of the manifest.
pub const MANIFEST_NAME: &str = "films.json";
pub(super) const PDF_NAME: &str = "films.pdf";
pub(super) const COMPOSITE_NAME: &str = "composite.pdf";
pub(super) const COMPOSITE_PROOF_NAME: &str = "composite-proof.png";
pub(super) const SPOTS_NAME: &str = "spots.tif";
const ROLL_STEM: &str = "roll";

/// A film on its page.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlannedFilm {
    /// Which screen, from 0 in print order.
    pub screen: usize,
    /// Whether it lies turned a right angle clockwise.
    pub sideways: bool,
    /// Its upper left corner, device pixels.
    pub at_px: [usize; 2],
}

/// A page: one film, or the roll.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedPage {
    /// File name of its TIFF without the ending.
    pub stem: String,
    /// Device pixels across and down.
    pub size_px: [usize; 2],
    /// Millimetres across and down.
    pub size_mm: [f64; 2],
    /// The films on it.
    pub films: Vec<PlannedFilm>,
}

/// A file.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedFile {
    /// Its name in the folder.
    pub name: String,
    /// What it is, in a few words.
    pub what: String,
    /// Its length, as near as can be known before.
    pub about_bytes: u64,
    /// Whether the length is sure; coded files may take half or twice of it.
    pub sure: bool,
}

/// A set of films before it is made.
#[derive(Debug, Clone, PartialEq)]
pub struct FilmPlan {
    /// Size of each film, upright, in millimetres.
    pub film_mm: [f64; 2],
    /// Pages in order.
    pub pages: Vec<PlannedPage>,
    /// Files in the order of the folder's list.
    pub files: Vec<PlannedFile>,
    /// Whether the pages are one roll of ganged films.
    pub ganged: bool,
}

impl FilmPlan {
    /// Least space that the files take, in bytes.
    pub fn least_bytes(&self) -> u64 {
        self.files.iter().map(|file| if file.sure { file.about_bytes } else { file.about_bytes / 2 }).sum()
    }

    /// Whether a film lies turned.
    pub fn is_turned(&self) -> bool {
        self.pages.iter().any(|page| page.films.iter().any(|film| film.sideways))
    }
}

/// Plans the films of a job. `screens` may be a smaller version of the screens; sizes are then
/// right to a pixel of theirs.
pub fn plan_films(job: &Job, screens: &Screens, options: &FilmOptions) -> Result<FilmPlan, FilmError> {
    if screens.list.is_empty() || screens.width == 0 || screens.height == 0 {
        return Err(FilmError::NoScreens);
    }
    check_settings(&job.film, screens.list.iter().map(|s| &s.name))?;
    if options.composite && screens.list.len() > MOST_COLORANTS {
        return Err(FilmError::Settings(format!(
            "a PDF page holds at most {MOST_COLORANTS} spot inks and the job has {}; write single films instead",
            screens.list.len()
        )));
    }
    let pages = if options.gang { gang(&job.film, screens)? } else { singles(&job.film, screens)? };
    let plan = FilmPlan {
        film_mm: Measures::new(&job.film, screens, false).film_mm(),
        files: files(job, screens, options, &pages)?,
        pages,
        ganged: options.gang,
    };
    Ok(plan)
}

/// A page a film, turned where it is too wide for the film printer.
fn singles(film: &FilmSettings, screens: &Screens) -> Result<Vec<PlannedPage>, FilmError> {
    let film_mm = Measures::new(film, screens, false).film_mm();
    let sideways = match film.printer_width {
        Some(width) if film_mm[0] > width.get() + FIT_MM => {
            if film_mm[1] > width.get() + FIT_MM {
                return Err(too_wide(film_mm, width.get()));
            }
            true
        }
        _ => false,
    };
    let size_px = Measures::new(film, screens, sideways).page_px();
    let list = screens.list.iter().enumerate();
    Ok(list
        .map(|(screen, s)| PlannedPage {
            stem: numbered_name(screen + 1, &s.ink.name),
            size_px,
            size_mm: mm(film, size_px),
            films: vec![PlannedFilm { screen, sideways, at_px: [0, 0] }],
        })
        .collect())
}

/// One page: the roll.
fn gang(film: &FilmSettings, screens: &Screens) -> Result<Vec<PlannedPage>, FilmError> {
    let Some(width) = film.printer_width else {
        return Err(FilmError::Settings(
            "films can only be put on a roll when the film printer's width is known; state it or write single films"
                .into(),
        ));
    };
    let measures = [false, true].map(|sideways| Measures::new(film, screens, sideways));
    let film_mm = measures[0].film_mm();
    let Some(packing) = pack(film_mm, screens.list.len(), width.get() + FIT_MM) else {
        return Err(too_wide(film_mm, width.get()));
    };
    let device = film.device();
    let px = |mm: f64, dpi: f64| (mm / MM_PER_INCH * dpi).round() as usize;
    let films: Vec<PlannedFilm> = packing
        .places
        .iter()
        .enumerate()
        .map(|(screen, place)| PlannedFilm {
            screen,
            sideways: place.sideways,
            at_px: [px(place.x_mm, device.x_dpi.get()), px(place.y_mm, device.y_dpi.get())],
        })
        .collect();
    // The roll is as wide as the films on it need, so that no reader has to scale it.
    let right = films.iter().map(|f| f.at_px[0] + measures[usize::from(f.sideways)].page_px()[0]).max().unwrap_or(0);
    let size_px = [right, px(packing.length_mm, device.y_dpi.get())];
    Ok(vec![PlannedPage { stem: ROLL_STEM.into(), size_px, size_mm: mm(film, size_px), films }])
}

/// Films may be wider than the printer by a rounding of a device pixel.
const FIT_MM: f64 = 0.05;

fn mm(film: &FilmSettings, px: [usize; 2]) -> [f64; 2] {
    let device = film.device();
    [px[0] as f64 / device.x_dpi.get() * MM_PER_INCH, px[1] as f64 / device.y_dpi.get() * MM_PER_INCH]
}

fn too_wide(film_mm: [f64; 2], width_mm: f64) -> FilmError {
    FilmError::Settings(format!(
        "films of {:.0} x {:.0} mm do not fit a film printer of {width_mm:.0} mm either way; print smaller, use a \
         smaller margin or a wider printer",
        film_mm[0], film_mm[1]
    ))
}

fn files(
    job: &Job,
    screens: &Screens,
    options: &FilmOptions,
    pages: &[PlannedPage],
) -> Result<Vec<PlannedFile>, FilmError> {
    let mut out = Vec::new();
    let coded: Vec<u64> = screens.list.iter().map(|s| g4_bytes(&job.film, screens, &s.name, &s.coverage)).collect();
    for page in pages {
        let of = |bytes: fn(u64) -> u64| page.films.iter().map(|f| bytes(coded[f.screen])).sum::<u64>();
        let plain = (page.size_px[0].div_ceil(8) * page.size_px[1]) as u64 + 1000;
        let (about_bytes, sure) = match options.compression {
            TiffCompression::G4 => (of(|b| b), false),
            TiffCompression::Deflate => (of(|b| b * 9 / 10).min(plain), false),
            TiffCompression::None => (plain, true),
        };
        // PDF units end at 14400 a side (ISO 32000-1, annex C): 5.08 m.
        if options.pdf && page.size_mm.iter().any(|mm| *mm > 200.0 * MM_PER_INCH) {
            return Err(FilmError::Settings(format!(
                "a PDF page ends at 5080 mm and the films need {:.0} x {:.0} mm; write TIFF only",
                page.size_mm[0], page.size_mm[1]
            )));
        }
        if !options.tiff {
            continue;
        }
        if sure && about_bytes > u64::from(u32::MAX) {
            return Err(FilmError::Settings(
                "a film without compression would pass 4 GiB, the most a TIFF can hold; choose Group 4 or a lower dpi"
                    .into(),
            ));
        }
        let first = &screens.list[page.films[0].screen];
        let what = match page.films.len() {
            1 => format!("{}, {}", first.ink.name, job.film.describe(&first.name)),
            n => format!("{n} films on {:.0} x {:.0} mm of roll", page.size_mm[0], page.size_mm[1]),
        };
        out.push(PlannedFile { name: format!("{}.tif", page.stem), what, about_bytes, sure });
    }
    if options.pdf {
        let what = match pages.len() {
            1 => "1 page at true size".into(),
            n => format!("{n} pages at true size"),
        };
        out.push(PlannedFile { name: PDF_NAME.into(), what, about_bytes: coded.iter().sum(), sure: false });
    }
    let samples = (screens.width * screens.height * screens.list.len()) as u64;
    if options.composite {
        let what = "all screens before halftone, a spot colour each, not compensated for gain".into();
        out.push(PlannedFile { name: COMPOSITE_NAME.into(), what, about_bytes: samples / 4, sure: false });
        let (what, about_bytes) = ("the print as the composite should look".into(), samples / 16);
        out.push(PlannedFile { name: COMPOSITE_PROOF_NAME.into(), what, about_bytes, sure: false });
    }
    if let Some(depth) = options.spots {
        let (bits, about_bytes) = match depth {
            SpotDepth::Eight => (8, samples / 4),
            SpotDepth::Sixteen => (16, samples),
        };
        let what = format!("a channel a screen, {bits} bits, not compensated for gain");
        out.push(PlannedFile { name: SPOTS_NAME.into(), what, about_bytes, sure: false });
    }
    let what = "sizes, SHA-256 and settings of the files".into();
    out.push(PlannedFile { name: MANIFEST_NAME.into(), what, about_bytes: 4000, sure: true });
    Ok(out)
}

/// About what a film takes in Group 4: a few bits for each change from ink to none along a row
/// where dots are, and little elsewhere.
fn g4_bytes(film: &FilmSettings, screens: &Screens, name: &ScreenName, coverage: &Plane<u16>) -> u64 {
    let step = (coverage.data().len() / 20_000).max(1);
    let sampled = coverage.data().iter().step_by(step);
    let count = sampled.len().max(1) as f64;
    // A round dot of area a has its two edges on as many of the rows of its cell as it is high.
    let high = |v: u16| {
        let a = f64::from(v) / 65_535.0;
        (2.0 * (a.min(1.0 - a) / std::f64::consts::PI).sqrt()).min(1.0)
    };
    let tonal = sampled.filter(|&&v| (655..64_880).contains(&v)).map(|&v| high(v)).sum::<f64>() / count;
    let device = film.device();
    let (ruling, _, dot) = film.of_screen(name);
    let per_inch = dot.size_mm().map_or(2.0 * ruling.get(), |size| 0.5 / size.inches());
    let inches = screens.width as f64 / screens.ppi.get() * screens.height as f64 / screens.ppi.get();
    // From a row to the next an edge of a dot moves by a few pixels on a coarse film printer and
    // stays where it is on a fine one.
    let pixels_a_dot = device.y_dpi.get() / per_inch;
    let bits = 1.3 + 16.0 / pixels_a_dot;
    let dots = inches * tonal * device.y_dpi.get() * per_inch * bits / 8.0;
    let rows = screens.height as f64 / screens.ppi.get() * device.y_dpi.get();
    (dots + rows * 3.0 + 8_000.0) as u64
}
