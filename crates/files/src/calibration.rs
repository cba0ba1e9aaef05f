//! The calibration print: a job whose films carry, for every ink, a step wedge and two solids. The
//! wedge, printed and read, gives the press's gain curve; the solids, printed once on a white and
//! once on a black shirt or card, give the ink's layer. Films carry no compensation: what is read
//! is the press alone.

use strikeoff_core::color::lab_from_linear;
use strikeoff_core::ink::{Coat, Garment, Ink};
use strikeoff_core::job::Job;
use strikeoff_core::press::{Ground, PrintModel, proof_from_screens};
use strikeoff_core::raster::Plane;
use strikeoff_core::screens::{Screen, Screens};
use strikeoff_core::separate::SeparationSettings;
use strikeoff_core::units::{MM_PER_INCH, Ppi};

use crate::job::JobFile;
use crate::photo::{Layout, corner_mark};

/// Film percents of the wedge.
pub const WEDGE_PCT: [u8; 15] = [0, 2, 5, 10, 15, 20, 30, 40, 50, 60, 70, 80, 90, 95, 100];

const PPI: f64 = 150.0;
const PATCH_MM: f64 = 16.0;
const SOLID_MM: f64 = 45.0;
const GAP_MM: f64 = 6.0;
/// Round the wedges, for the corner marks that a camera or scanner finds.
const MARGIN_MM: f64 = 16.0;

/// Height of one ink's strip: the wedge, the solids and a gap.
const STRIP_MM: f64 = PATCH_MM + GAP_MM + SOLID_MM + 2.0 * GAP_MM;

/// Where the wedges of so many inks lie, ink by ink, step by step.
pub(crate) fn wedge_layout(inks: usize) -> Layout {
    let step = |at: usize| MARGIN_MM + (at as f64 + 0.5) * PATCH_MM;
    let top = |ink: usize| MARGIN_MM + STRIP_MM * ink as f64;
    let steps = || 0..WEDGE_PCT.len();
    let fields =
        (0..inks).flat_map(|ink| steps().map(move |at| ([step(at), top(ink) + PATCH_MM / 2.0], PATCH_MM))).collect();
    let bare = (0..inks).flat_map(|ink| {
        let over = steps().map(move |at| ([step(at), top(ink) - 6.0], 4.0));
        // Between wedge and solids, and beside the solids down to the next wedge.
        let under = steps().map(move |at| ([step(at), top(ink) + PATCH_MM + GAP_MM / 2.0], GAP_MM / 2.0));
        let beside = (7..WEDGE_PCT.len()).flat_map(move |at| {
            [0.25, 0.5, 0.75].map(|down| ([step(at), top(ink) + PATCH_MM + GAP_MM + SOLID_MM * down], 6.0))
        });
        over.chain(under).chain(beside)
    });
    // The first step of each wedge is bare too.
    let first = (0..inks).map(|ink| ([step(0), top(ink) + PATCH_MM / 2.0], 6.0));
    Layout { size: size(inks), fields, bare: bare.chain(first).collect() }
}

fn size(inks: usize) -> [f64; 2] {
    let wide = WEDGE_PCT.len() as f64 * PATCH_MM;
    [wide + 2.0 * MARGIN_MM, STRIP_MM * inks.max(1) as f64 - 2.0 * GAP_MM + 2.0 * MARGIN_MM]
}

/// Which ink stands out most from the garment by its lightness, as eye, camera and scanner see it: numbers and marks
/// are printed with it.
pub(crate) fn stands_out(inks: &[Ink], garment: &Garment) -> usize {
    let fabric = garment.reflectance();
    let lightness = |light| lab_from_linear(light).l;
    let apart = |ink: &Ink| (lightness(Coat::from_ink(ink).over(fabric)) - lightness(fabric)).abs();
    (0..inks.len()).max_by(|a, b| apart(&inks[*a]).total_cmp(&apart(&inks[*b]))).unwrap_or(0)
}

/// A job that is printed to be measured: films and press as `like` has them, without compensation, flashes or a
/// fingerprint, and an angle of its own for each ink, so that overprints meet by chance.
pub(crate) fn job_to_measure(inks: &[Ink], garment: Garment, like: Option<&Job>) -> Job {
    let mut job = Job::new(garment);
    if let Some(like) = like {
        job.press = like.press.clone();
        job.run = like.run.clone();
        job.film = like.film.clone();
    }
    job.press.compensate = false;
    job.press.stops.clear();
    job.run.calibration = true;
    job.run.fingerprint = None;
    job.separation = SeparationSettings::for_inks(inks.iter().cloned());
    let named: Vec<_> = job.separation.screens.iter().map(|s| (s.name.clone(), Some(&s.ink))).collect();
    job.film.set_apart(&named);
    job
}

/// A calibration job for inks on a garment, with the films' ruling and the press as `like` has
/// them. Its screens are kept in the file; they do not come from the art, which only shows them.
pub fn calibration_job(inks: &[Ink], garment: Garment, like: Option<&Job>) -> JobFile {
    let mut job = job_to_measure(inks, garment, like);
    job.info.title = "Calibration print".to_owned();
    let px = |mm: f64| (mm / MM_PER_INCH * PPI).round() as usize;
    let size = size(inks.len());
    let [width, height] = size.map(px);
    let ppi = Ppi::new(PPI).unwrap_or_else(|_| unreachable!());
    let marks = stands_out(inks, &job.garment);
    let list = inks
        .iter()
        .enumerate()
        .map(|(at, ink)| {
            let coverage = Plane::from_fn(width, height, |x, y| {
                let place = [x, y].map(|v| (v as f64 + 0.5) * MM_PER_INCH / PPI);
                let mark = corner_mark(place, size).filter(|_| at == marks).map(|ink| f64::from(u8::from(ink)));
                (mark.unwrap_or_else(|| tone(place, at)) * 65535.0).round() as u16
            });
            Screen { name: ink.name.as_str().into(), ink: ink.clone(), hits: 1, coverage }
        })
        .collect();
    let screens = Screens { width, height, ppi, list };
    // The art is what the print means to look like, so that the job opens like any other.
    let even = PrintModel { compensate: true, ..job.press.clone() };
    let picture = proof_from_screens(&screens, &Ground { press: &even, ..job.ground() }, |_| true);
    job.prep.ppi = ppi;
    let mut file = JobFile::new(job, "calibration-print.png", crate::picture::png_bytes(&picture, ppi));
    file.keep_screens(screens);
    file
}

/// The tone of an ink's film at a place.
fn tone(place: [f64; 2], ink: usize) -> f64 {
    let (x_mm, y_mm) = (place[0] - MARGIN_MM, place[1] - MARGIN_MM - STRIP_MM * ink as f64);
    let solids = PATCH_MM + GAP_MM..PATCH_MM + GAP_MM + SOLID_MM;
    if (0.0..PATCH_MM).contains(&y_mm) && (0.0..WEDGE_PCT.len() as f64 * PATCH_MM).contains(&x_mm) {
        f64::from(WEDGE_PCT[(x_mm / PATCH_MM) as usize]) / 100.0
    } else if solids.contains(&y_mm) {
        let in_solid = |left: f64| (left..left + SOLID_MM).contains(&x_mm);
        f64::from(u8::from(in_solid(0.0) || in_solid(SOLID_MM + GAP_MM)))
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shelf::house_shelf;
    use strikeoff_core::Progress;

    #[test]
    fn the_job_keeps_its_wedges_and_solids_when_opened_again() {
        let inks: Vec<Ink> = house_shelf().inks.iter().take(2).cloned().collect();
        let file = calibration_job(&inks, Garment::of_color("#FFFFFF".parse().unwrap()), None);
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("calibration.strikeoff");
        crate::job::save_job(&path, &file).unwrap();
        let opened = crate::job::open_job(&path).unwrap();
        assert!(!opened.job.press.compensate);
        let screens = opened.evaluated(&Progress::none()).unwrap().screens;
        let px = |mm: f64| (mm / MM_PER_INCH * PPI) as usize;
        for (at, pct) in WEDGE_PCT.iter().enumerate() {
            let x = px(MARGIN_MM + (at as f64 + 0.5) * PATCH_MM);
            let a = f64::from(screens.list[1].coverage.get(x, px(MARGIN_MM + STRIP_MM + PATCH_MM / 2.0))) / 65535.0;
            assert!((a * 100.0 - f64::from(*pct)).abs() < 0.01, "{pct}: {a}");
            assert_eq!(screens.list[0].coverage.get(x, px(MARGIN_MM + STRIP_MM + PATCH_MM / 2.0)), 0);
        }
        assert_eq!(screens.list[0].coverage.get(px(MARGIN_MM + 10.0), px(MARGIN_MM + PATCH_MM + GAP_MM + 10.0)), 65535);
    }
}
